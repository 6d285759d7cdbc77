import type { DeskAction } from "../feed/record.ts";
import { type Journey, railOfSide, travelSide } from "../journey/journey.ts";
import { type LineBook, lineBookOf } from "../line/line-book.ts";
import type { Railroad } from "../line/railroad.ts";
import type { Pass } from "../pass/pass.ts";
import { isOffRoster, rowOn } from "./axle.ts";
import { ClosedWarnings, MAX_ACTIONS } from "./closed-warnings.ts";
import { compose } from "./compose.ts";
import type { Decision, Standing } from "./decide.ts";
import type { Look } from "./look.ts";
import { Publication } from "./publication.ts";
import type { RuleBook } from "./rule-book.ts";
import { type Draft, draftOf, type Entry, type Told, tell } from "./telling.ts";
import type { Warning } from "./warning.ts";
import { warningId } from "./warning-id.ts";

/** Bearings with a level on open journeys of one corridor: a hundred trains with twenty each. The oldest is closed first. */
const MAX_FOLLOWED = 2_000;
/** Ids with desk actions; an action on an id that never comes must not stay for ever. */
const MAX_ACTED_ON = 2_000;

/** A decision to take down, and what it was made from. */
export interface Note {
  journey: Journey;
  legIndex: number;
  rosterAxle: number;
  side: 0 | 1;
  look: Look;
  decision: Decision;
}

interface Followed {
  journey: Journey;
  rosterAxle: number;
  side: 0 | 1;
  entries: Entry[];
  /** null until this corridor has something to say. */
  id: string | null;
  /** As of the last settle. */
  told: Told | null;
}

/**
 * The warnings of one corridor: what every followed bearing's looks came to, leg by leg, and what was published of it.
 *
 * For a pass in event-time order:
 *
 *     const { journey, leg } = journeys.place(pass, levels);         // legIndex = journey.legs.indexOf(leg)
 *     for each candidate (rosterAxle, side) of the screen, and each of ledger.following(journey.id):
 *       const rules = book.at(pass.endedMs);
 *       const look = lookAt({ railroad, book, journey, legIndex, rosterAxle, side, track, outlook, heat, keyTrain });
 *       const decision = decide(look, ledger.before(journey.id, legIndex, rosterAxle, side), rules);
 *       ledger.record({ journey, legIndex, rosterAxle, side, look, decision });
 *     ledger.settle(out, greatest event time so far);
 *
 * For a late pass: `ledger.rollBack(pass)` beside `journeys.rollBack(pass)`, then the late pass and those taken back as
 * above, and ONE settle at the end: what says the same as before is not published again, what changed is a correction,
 * an id that is no more is withdrawn. Desk actions go to `act`; a journey that is dropped for good goes to `close`.
 *
 * What is shown of a bearing depends on its legs and desk actions alone, never on the order in which they came.
 * A lead-in site's looks count for what stands, but are published by the corridor that owns the site only.
 */
export class Ledger {
  readonly #lines: LineBook;
  readonly #book: RuleBook;
  readonly #corridor: string;
  /** By journey, then by bearing (rosterAxle * 2 + side). */
  readonly #journeys = new Map<string, Map<number, Followed>>();
  #followed = 0;
  readonly #byId = new Map<string, Followed>();
  readonly #dirty = new Set<Followed>();
  /** Ids whose bearing was taken back since the last settle. */
  readonly #orphans = new Set<string>();
  readonly #publication = new Publication();
  readonly #closed: ClosedWarnings;
  readonly #actions = new Map<string, DeskAction[]>();
  #takenBack = false;
  #late: Pass | null = null;
  #forgotten = 0;

  constructor(setup: { railroad: Railroad; book: RuleBook; corridor: string }) {
    this.#lines = lineBookOf(setup.railroad);
    this.#book = setup.book;
    this.#corridor = setup.corridor;
    this.#closed = new ClosedWarnings(setup.book);
  }

  /** Bearings with a level now or earlier on this journey: to be looked at on each of its legs, whatever the screen says. */
  following(journeyId: string): { rosterAxle: number; side: 0 | 1 }[] {
    const bearings = this.#journeys.get(journeyId);
    const rostered = [...(bearings?.values() ?? [])].filter(({ rosterAxle }) => !isOffRoster(rosterAxle));
    return rostered.map(({ rosterAxle, side }) => ({ rosterAxle, side }));
  }

  /** What stands for a bearing from the legs before `legIndex`. */
  before(journeyId: string, legIndex: number, rosterAxle: number, side: 0 | 1): Standing | null {
    const entries = this.#journeys.get(journeyId)?.get(rosterAxle * 2 + side)?.entries;
    return entries?.findLast((entry) => entry.legIndex < legIndex)?.decision.standing ?? null;
  }

  /** Takes down a decision. Legs come in order; a leg noted again replaces itself and all after it. */
  record(note: Note): void {
    const { journey, legIndex, rosterAxle, side, decision } = note;
    const known = this.#journeys.get(journey.id)?.get(rosterAxle * 2 + side);
    if (known !== undefined) this.#cut(known, legIndex);
    // Most looks say nothing; from what was said before, the level of every later look follows.
    if (decision.level === null && decision.change !== "lapsed") return;
    const isFollowed = known !== undefined && known.entries.length > 0;
    if (!isFollowed && this.#isSpokenFor(note)) return;
    const bearing = this.#journeys.get(journey.id)?.get(rosterAxle * 2 + side) ?? this.#follow(journey, rosterAxle, side);
    bearing.journey = journey;
    bearing.entries.push(this.#entryOf(note));
    this.#name(bearing);
    this.#dirty.add(bearing);
  }

  /** Takes back the legs of one journey from `fromLegIndex` on. */
  takeBack(journeyId: string, fromLegIndex: number): void {
    this.#takenBack = true;
    for (const bearing of [...(this.#journeys.get(journeyId)?.values() ?? [])]) this.#cut(bearing, fromLegIndex);
  }

  /** Takes back every leg whose pass sorts after `key`, a late one, in all journeys: as `Journeys.rollBack` does. */
  rollBack(key: Pass): void {
    this.#takenBack = true;
    this.#late = key;
    const isAfter = ({ decision, passId }: Entry) => decision.timeMs > key.endedMs || (decision.timeMs === key.endedMs && passId > key.id);
    for (const bearings of [...this.#journeys.values()]) {
      for (const bearing of [...bearings.values()]) {
        const first = bearing.entries.find(isAfter);
        if (first !== undefined) this.#cut(bearing, first.legIndex);
      }
    }
  }

  /**
   * A desk action on a warning. A repeated id changes nothing; an action on an id that is not known (yet) waits for it.
   * Returns whether it is known.
   */
  act(action: DeskAction): boolean {
    if (action.warning === undefined) return false;
    const heir = this.#publication.heirOf(action.warning);
    const live = this.#byId.get(heir);
    if (live === undefined && this.#closed.has(heir)) {
      this.#closed.act(heir, action);
      return true;
    }
    const actions = this.#actions.get(action.warning) ?? [];
    if (actions.length < MAX_ACTIONS && !actions.some((known) => known.id === action.id)) actions.push(action);
    this.#actions.set(action.warning, actions);
    this.#boundActions();
    if (live !== undefined) this.#dirty.add(live);
    return live !== undefined;
  }

  /** Publishes what changed since the last settle, by event time and id. `nowMs`: the greatest event time so far, for shelves that end. */
  settle(out: Warning[], nowMs: number): void {
    const versions: Warning[] = [];
    // Withdrawals first: who takes over from whom decides which desk actions count.
    const heirs = this.#withdraw(versions);
    for (const bearing of this.#byId.values()) if (bearing.told !== null && endsShelf(bearing.told, nowMs)) this.#dirty.add(bearing);
    for (const bearing of this.#dirty) this.#tell(bearing, heirs, nowMs, versions);
    for (const draft of this.#closed.settle(nowMs)) this.#publication.say(draft, false, versions);
    versions.sort(byTimeAndId);
    for (const version of versions) out.push(version);
    this.#dirty.clear();
    this.#orphans.clear();
    this.#takenBack = false;
    this.#late = null;
    const gone = this.#publication.bound((id) => this.#byId.has(id));
    if (gone === 0) return;
    this.#closed.bound((id) => this.#publication.get(id) !== undefined);
    this.#forgotten += gone;
  }

  /** The journey is over and no late pass can change it: its legs are let go, its warnings stay open for the desk. After a settle. */
  close(journeyId: string): void {
    for (const bearing of [...(this.#journeys.get(journeyId)?.values() ?? [])]) this.#close(bearing);
  }

  /** Takes in a warning published before this ledger began, so that its versions go on and the desk can act on it. */
  adopt(warning: Warning): void {
    if (!this.#publication.adopt(warning)) return;
    if (warning.state !== "withdrawn" && !this.#byId.has(warning.id)) this.#closed.adopt(warning);
  }

  /** Takes in all open warnings of journeys that are over, in place of what was found out of such journeys since this ledger began. */
  adoptOnly(warnings: readonly Warning[]): void {
    for (const { id } of [...this.#publication.all()]) {
      if (this.#byId.has(id)) continue;
      this.#publication.forget(id);
      this.#closed.forget(id);
    }
    for (const warning of warnings) this.adopt(warning);
  }

  /** Last version of every id that is kept, in the order in which the ids came up. */
  published(): IterableIterator<Warning> {
    return this.#publication.all();
  }

  /** What is held now, for metrics, and how many ids a limit let go. */
  counts(): { followed: number; kept: number; forgotten: number } {
    return { followed: this.#followed, kept: this.#publication.size, forgotten: this.#forgotten };
  }

  /**
   * Hot brakes heat all bearings of a vehicle: the first that was watched for them speaks for those nothing was said of yet.
   * Asks only what stands from this leg and those before, so the order in which passes came does not count.
   */
  #isSpokenFor({ journey, legIndex, rosterAxle, look, decision }: Note): boolean {
    if (decision.level !== "watch" || !isOfBrakes(look.heat, decision)) return false;
    const leg = journey.legs[legIndex]!;
    const vehicle = leg.pass.vehicleOfAxle[rowOn(leg, legIndex, rosterAxle)] ?? -1;
    if (vehicle < 0) return false;
    for (const other of this.#journeys.get(journey.id)?.values() ?? []) {
      const last = other.entries.at(-1);
      if (last === undefined || last.decision.level !== "watch" || !isOfBrakes(last.content.heat, last.decision)) continue;
      if (leg.pass.vehicleOfAxle[rowOn(leg, legIndex, other.rosterAxle)] === vehicle) return true;
    }
    return false;
  }

  #entryOf(note: Note): Entry {
    const { journey, legIndex, decision } = note;
    const { pass } = journey.legs[legIndex]!;
    const rules = this.#book.at(decision.timeMs);
    const content = compose({ ...note, railroad: this.#lines, corridor: this.#corridor, rules });
    return { legIndex, passId: pass.id, decision, content, owned: this.#lines.corridorsOf(pass.site)[0] === this.#corridor };
  }

  /** The id comes from the first leg that this corridor publishes with a level. */
  #name(bearing: Followed): void {
    const entry = bearing.entries.at(-1)!;
    if (bearing.id !== null || !entry.owned || entry.decision.level === null) return;
    const { pass, axle, side } = entry.content;
    bearing.id = warningId(pass, axle, side);
    this.#byId.set(bearing.id, bearing);
    this.#closed.forget(bearing.id);
  }

  #follow(journey: Journey, rosterAxle: number, side: 0 | 1): Followed {
    if (this.#followed >= MAX_FOLLOWED) this.#closeOldest();
    const bearing: Followed = { journey, rosterAxle, side, entries: [], id: null, told: null };
    const bearings = this.#journeys.get(journey.id) ?? new Map<number, Followed>();
    bearings.set(rosterAxle * 2 + side, bearing);
    this.#journeys.set(journey.id, bearings);
    this.#followed++;
    return bearing;
  }

  /** Drops the entries from a leg on; with the last of them goes the id, if settle finds nobody else under it. */
  #cut(bearing: Followed, fromLegIndex: number): void {
    const keep = bearing.entries.findIndex((entry) => entry.legIndex >= fromLegIndex);
    if (keep < 0) return;
    bearing.entries.length = keep;
    this.#dirty.add(bearing);
    if (bearing.id !== null && !bearing.entries.some((entry) => entry.owned && entry.decision.level !== null)) {
      this.#orphans.add(bearing.id);
      this.#byId.delete(bearing.id);
      bearing.id = null;
    }
    if (keep === 0) this.#drop(bearing);
  }

  #drop(bearing: Followed): void {
    const bearings = this.#journeys.get(bearing.journey.id);
    if (bearings?.delete(bearing.rosterAxle * 2 + bearing.side)) this.#followed--;
    if (bearings?.size === 0) this.#journeys.delete(bearing.journey.id);
    this.#dirty.delete(bearing);
  }

  #withdraw(versions: Warning[]): Set<string> {
    const heirs = new Set<string>();
    for (const id of this.#orphans) {
      const last = this.#publication.get(id);
      if (last === undefined || last.state === "withdrawn" || this.#byId.has(id)) continue;
      const heir = this.#sameBearing(last);
      if (heir !== null) heirs.add(heir);
      const { version: _version, correction: _correction, ...said } = last;
      const timeMs = Math.max(Date.parse(last.time), this.#late?.endedMs ?? 0);
      this.#publication.say({ ...said, time: new Date(timeMs).toISOString(), state: "withdrawn", supersededBy: heir }, true, versions);
    }
    return heirs;
  }

  /** The id under which the bearing of a withdrawn warning goes on: the one that was on that axle end in that pass. */
  #sameBearing(last: Warning): string | null {
    for (const bearing of this.#dirty) {
      if (bearing.id === null) continue;
      for (const [i, leg] of bearing.journey.legs.entries()) {
        if (leg.pass.id !== last.pass || rowOn(leg, i, bearing.rosterAxle) !== last.axle - 1) continue;
        if (travelSide(leg.direction, railOfSide(leg, bearing.side)) === (last.side === "left" ? 0 : 1)) return bearing.id;
      }
    }
    return null;
  }

  #tell(bearing: Followed, heirs: ReadonlySet<string>, nowMs: number, versions: Warning[]): void {
    if (bearing.id === null) return;
    bearing.told = tell(bearing.entries, this.#actionsOn(bearing.id), this.#book, nowMs);
    if (bearing.told === null) return;
    const draft: Draft = draftOf(bearing.id, bearing.told, this.#book);
    // The late pass itself may be the first to say something of a bearing: late news, but nothing said is changed.
    const isNews =
      this.#publication.get(bearing.id) === undefined && !heirs.has(bearing.id) && bearing.entries.at(-1)!.passId === this.#late?.id;
    this.#publication.say(draft, this.#takenBack && !isNews, versions);
  }

  #actionsOn(id: string): DeskAction[] {
    if (this.#actions.size === 0) return [];
    return this.#publication.forebearsOf(id).flatMap((any) => this.#actions.get(any) ?? []);
  }

  #close(bearing: Followed): void {
    const { id } = bearing;
    if (id !== null) {
      this.#byId.delete(id);
      if (bearing.told !== null) this.#closed.keep(id, bearing.told, this.#actionsOn(id));
      for (const any of this.#publication.forebearsOf(id)) this.#actions.delete(any);
    }
    this.#drop(bearing);
  }

  #closeOldest(): void {
    const oldest = this.#journeys.values().next().value?.values().next().value;
    if (oldest === undefined) return;
    this.#close(oldest);
    this.#forgotten++;
  }

  #boundActions(): void {
    for (const id of this.#actions.keys()) {
      if (this.#actions.size <= MAX_ACTED_ON) return;
      if (!this.#byId.has(this.#publication.heirOf(id))) this.#actions.delete(id);
    }
  }
}

function isOfBrakes(heat: Warning["heat"], decision: Decision): boolean {
  return heat === "brakes" || decision.cause === "hot-wheel";
}

function endsShelf(told: Told, nowMs: number): boolean {
  return told.stand.shelf !== null && told.stand.shelf.untilMs <= nowMs;
}

function byTimeAndId(a: Warning, b: Warning): number {
  if (a.time !== b.time) return a.time < b.time ? -1 : 1;
  return a.id < b.id ? -1 : a.id > b.id ? 1 : 0;
}
