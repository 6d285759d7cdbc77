import { heatKind } from "../bearing/heat.ts";
import { trackOf } from "../bearing/history.ts";
import { outlook } from "../bearing/outlook.ts";
import { SCREENED_MAX, screen } from "../bearing/screen.ts";
import type { HeatKind, Outlook } from "../bearing/track.ts";
import type { DeskAction } from "../feed/record.ts";
import { type Journey, type Leg, railOfSide, rowOfRoster } from "../journey/journey.ts";
import { type LineBook, lineBookOf } from "../line/line-book.ts";
import type { Railroad } from "../line/railroad.ts";
import type { Pass } from "../pass/pass.ts";
import { sitesAhead, waysAhead } from "../warning/ahead.ts";
import { axleOffRoster } from "../warning/axle.ts";
import { type Decision, decide } from "../warning/decide.ts";
import { Ledger } from "../warning/ledger.ts";
import { type Look, limitExcessF, lookAt, presenceAt } from "../warning/look.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import { limitsOf, type Rules } from "../warning/rule-set.ts";
import type { Warning } from "../warning/warning.ts";

/** That an axle was not counted, and that its vehicle is gone, is each worth saying once; its warning stands all the same. */
function isAbsentAsBefore(journey: Journey, legIndex: number, rosterAxle: number): boolean {
  if (legIndex === 0 || rowOfRoster(journey.legs[legIndex]!, rosterAxle) >= 0) return false;
  return presenceAt(journey, legIndex, rosterAxle) === presenceAt(journey, legIndex - 1, rosterAxle);
}

/** What an observer is shown of every look that was taken: for measuring the decision, never for taking it. */
export interface LookTaken {
  journey: Journey;
  legIndex: number;
  rosterAxle: number;
  side: 0 | 1;
  look: Look;
  decision: Decision;
}

/**
 * The bearings of one corridor: which of a pass's bearings deserve a closer look, what each look says, what was decided.
 * Nearly every bearing ends at the screen; whoever was warned of is looked at on every later leg.
 */
export class Bearings {
  private readonly lines: LineBook;
  private readonly book: RuleBook;
  private readonly ledger: Ledger;
  private readonly observe: ((taken: LookTaken) => void) | null;
  private readonly screened = new Int32Array(SCREENED_MAX);
  private readonly looked = new Set<number>();
  private readonly journeys = new Map<string, Journey>();
  /** None of them was last heard before: spares looking through all of them at every pass. */
  private unheardSinceMs = Number.NEGATIVE_INFINITY;
  private readonly out: Warning[] = [];
  /** Looks taken so far, those taken anew after a late pass too. */
  looks = 0;

  constructor(corridor: string, railroad: Railroad, book: RuleBook, observe: ((taken: LookTaken) => void) | null = null) {
    this.lines = lineBookOf(railroad);
    this.book = book;
    this.ledger = new Ledger({ railroad: this.lines, book, corridor });
    this.observe = observe;
  }

  /** Looks at the bearings of a leg that was just placed. */
  look(journey: Journey, legIndex: number, keyTrain: boolean): void {
    const leg = journey.legs[legIndex]!;
    const rules = this.book.at(leg.pass.endedMs);
    this.looked.clear();
    const count = screen(journey, legIndex, this.screened);
    inOrderOfSides(this.screened, count, railOfSide(leg, 0));
    for (let i = 0; i < count; i++) {
      const row = this.screened[i]! >> 1;
      const rail = (this.screened[i]! & 1) as 0 | 1;
      const nearest = bearingAxle(leg, row);
      // Off the roster, with nobody near: no history, but a reading at the limit is a limit all the same.
      const rosterAxle = nearest >= 0 ? nearest : axleOffRoster(legIndex, row);
      this.lookAtOne(journey, legIndex, rosterAxle, railOfSide(leg, rail), row, rules, keyTrain);
    }
    for (const { rosterAxle, side } of this.ledger.following(journey.id)) {
      if (isAbsentAsBefore(journey, legIndex, rosterAxle)) continue;
      this.lookAtOne(journey, legIndex, rosterAxle, side, rowOfRoster(leg, rosterAxle), rules, keyTrain);
    }
  }

  private lookAtOne(
    journey: Journey,
    legIndex: number,
    rosterAxle: number,
    side: 0 | 1,
    row: number,
    rules: Rules,
    keyTrain: boolean,
  ): void {
    const bearing = rosterAxle * 2 + side;
    const leg = journey.legs[legIndex]!;
    const isCountedTwice = row >= 0 && rosterAxle >= 0 && leg.rosterOfRow[row] !== rosterAxle;
    if (this.looked.has(bearing) && !isCountedTwice) return;
    this.looked.add(bearing);
    this.looks++;
    const look = this.lookOf(journey, legIndex, rosterAxle, side, rules, keyTrain);
    if (isCountedTwice) takeHotter(look, leg, row, railOfSide(leg, side));
    const before = this.ledger.before(journey.id, legIndex, rosterAxle, side);
    const decision = decide(look, before, rules);
    const taken = { journey, legIndex, rosterAxle, side, look, decision };
    this.ledger.record(taken);
    this.remember(journey);
    this.observe?.(taken);
  }

  private remember(journey: Journey): void {
    this.journeys.set(journey.id, journey);
    this.unheardSinceMs = Math.min(this.unheardSinceMs, journey.legs.at(-1)!.pass.endedMs);
  }

  private lookOf(journey: Journey, legIndex: number, rosterAxle: number, side: 0 | 1, rules: Rules, keyTrain: boolean): Look {
    const { book } = this;
    const leg = journey.legs[legIndex]!;
    const { pass } = leg;
    const railroad = this.lines.of(pass.site, pass.endedMs);
    const track = trackOf(journey, rosterAxle, side, legIndex);
    const rail = railOfSide(leg, side);
    let outlooked: Outlook | null = null;
    if (!Number.isNaN(leg.levels.medianF[rail])) {
      const limits = limitsOf(rules, railroad.sites.get(pass.site)!.kind, keyTrain);
      const ahead = sitesAhead(waysAhead(railroad, leg), rules);
      outlooked = outlook(track, limitExcessF(limits, leg, rowOfRoster(leg, rosterAxle), rail), ahead);
    }
    const heat: HeatKind = heatKind(journey, legIndex, rosterAxle, side, track);
    return lookAt({ railroad, book, journey, legIndex, rosterAxle, side, track, outlook: outlooked, heat, keyTrain });
  }

  /** What was said of a journey from a leg on is open again. */
  rollBack(key: Pass): void {
    this.unheardSinceMs = Number.NEGATIVE_INFINITY;
    this.ledger.rollBack(key);
  }

  act(action: DeskAction): boolean {
    return this.ledger.act(action);
  }

  /** Publishes what changed. `nowMs`: the greatest event time so far. */
  publish(nowMs: number, warning: (warning: Warning) => void): void {
    this.ledger.settle(this.out, nowMs);
    for (const one of this.out) warning(one);
    this.out.length = 0;
  }

  /** Takes in a warning published before this began. */
  adopt(warning: Warning): void {
    this.ledger.adopt(warning);
  }

  /** Takes in what was kept (`toKeep`) at this very place, in place of what was found out of journeys that are over. */
  restore(kept: readonly Warning[]): void {
    this.ledger.adoptOnly(kept);
  }

  /** Published warnings that the desk may still act on although their journey is over, the newest of them. */
  toKeep(): Warning[] {
    const open: Warning[] = [];
    for (const warning of this.ledger.published()) {
      if (!this.journeys.has(warning.journey) && warning.state !== "cleared" && warning.state !== "withdrawn") open.push(warning);
    }
    // By what they say, not by when they were heard of: after a restart that may be another order.
    open.sort((a, b) => (a.time < b.time ? -1 : a.time > b.time ? 1 : a.id < b.id ? -1 : 1));
    return open.slice(-MOST_KEPT);
  }

  /** Lets go of journeys whose last pass ended before. Their warnings stay for the desk. */
  forget(beforeMs: number): void {
    if (this.unheardSinceMs >= beforeMs) return;
    this.unheardSinceMs = Number.POSITIVE_INFINITY;
    for (const [id, journey] of this.journeys) {
      const last = journey.legs.at(-1);
      if (last !== undefined && last.pass.endedMs >= beforeMs) {
        this.unheardSinceMs = Math.min(this.unheardSinceMs, last.pass.endedMs);
        continue;
      }
      // Without a leg it was taken back, and placed anew under another name.
      if (last !== undefined) this.ledger.close(id);
      this.journeys.delete(id);
    }
  }
}

/** Open warnings restated at once, at most: with 5 kB each, 2.5 MB. The desk has long looked at older ones. Assumption. */
export const MOST_KEPT = 500;

/** The left side of the train first, whichever rail it ran on: the order of looking must not depend on the direction of mileposts. */
function inOrderOfSides(screened: Int32Array, count: number, firstRail: 0 | 1): void {
  if (firstRail === 0) return;
  for (let i = 1; i < count; i++) {
    const before = screened[i - 1]!;
    if (before >> 1 !== screened[i]! >> 1) continue;
    screened[i - 1] = screened[i]!;
    screened[i] = before;
    i++;
  }
}

/**
 * Roster axle of a row. A row counted twice belongs to no axle of its own: it is read for the nearer of its neighbours,
 * so that no reading goes without a bearing.
 */
function bearingAxle(leg: Leg, row: number): number {
  const { rosterOfRow, pass } = leg;
  if (rosterOfRow[row]! >= 0) return rosterOfRow[row]!;
  const before = row > 0 ? rosterOfRow[row - 1]! : -1;
  const after = rosterOfRow[row + 1] ?? -1;
  if (before < 0) return after;
  if (after < 0) return before;
  return (pass.gapInches[row + 1] ?? Number.POSITIVE_INFINITY) < (pass.gapInches[row] ?? Number.POSITIVE_INFINITY) ? after : before;
}

/** An axle counted twice was read twice: the hotter reading is held against the limits. */
function takeHotter(look: Look, leg: Leg, row: number, rail: 0 | 1): void {
  const riseF = leg.pass.bearingRiseF[rail][row]!;
  if (riseF > look.riseF || Number.isNaN(look.riseF)) look.riseF = riseF;
}
