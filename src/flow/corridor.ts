import { Biases } from "../bearing/biases.ts";
import { Calibrator } from "../bearing/calibrate.ts";
import { HISTORY_LEGS } from "../bearing/history.ts";
import { isStillLevel, level } from "../bearing/level.ts";
import type { Levels } from "../bearing/levels.ts";
import type { Consist, DeskAction, LineAnnounced, SiteReport, Tick } from "../feed/record.ts";
import { Journeys } from "../journey/join.ts";
import type { Railroad } from "../line/railroad.ts";
import { comparePasses, type Pass } from "../pass/pass.ts";
import { doubtUnits } from "../pass/units-doubt.ts";
import { findVehicles } from "../pass/vehicles.ts";
import { type LeftOut, Watch } from "../site/watch.ts";
import { RuleBook } from "../warning/rule-book.ts";
import type { Rules } from "../warning/rule-set.ts";
import { bare, pack, slim } from "./bare-leg.ts";
import { Bearings, type LookTaken } from "./bearings.ts";
import { Consists } from "./consists.ts";
import { CorridorClock } from "./corridor-clock.ts";
import { CorridorLine } from "./corridor-line.ts";
import type { Kept, Memory } from "./followed.ts";
import type { Refused } from "./refused.ts";
import { shareVehicles } from "./shared-vehicles.ts";
import type { FollowSink } from "./sink.ts";
import { type Placed, Unsettled } from "./unsettled.ts";

/**
 * How far behind event time a pass may come and still be joined. Assumption: an outage of a line's communication is
 * mended or given up within this. Past it a pass is published but joins nothing.
 */
export const LATENESS_MS = 2 * 3_600_000;

/** A train not seen for so long has ended its journey: longer than any stop worth bridging. Assumption. */
export const JOURNEY_IDLE_MS = 10 * 3_600_000;

/** Passes that may wait to be settled; past it the oldest is settled early. A busy corridor has some dozens. */
export const MOST_UNSETTLED = 5_000;

/** How often a corridor looks at what time alone brings: passes that settle, sites fallen dead. */
const LOOK_AT_TIME_MS = 60_000;

/** How often what is kept is restated, on a grid of time. A re-fold begins at a restatement, so not too rarely. Assumption. */
export const RESTATE_EVERY_MS = 6 * 3_600_000;

/** Passes left out of journeys that may still be put in: those of tests and of sites out of service. The oldest goes first. */
export const MOST_ASIDE = 1_000;

/** Announced rule sets kept: one a month for eight years, as many as a folder may hold. */
const MOST_ANNOUNCED = 100;

/**
 * All that one corridor folds: passes into journeys, bearings into warnings, settled passes into scanner biases.
 *
 * What it ends with is a function of the set of passes, whatever their order within LATENESS_MS: passes stand in the
 * order of event time, and one that belongs earlier takes back those after it and places them anew. A pass older than
 * that is settled: nothing changes it any more, and only settled passes teach the scanners' bias.
 */
export class Corridor {
  readonly id: string;
  /** Its own, as the rules are: what is announced comes at a place in its own order. */
  private readonly line: CorridorLine;
  private readonly book: RuleBook;
  private readonly rulesAnnounced: Rules[] = [];
  private readonly sink: FollowSink;
  /** Over the sites that this corridor owns. */
  private readonly watch: Watch;
  private readonly clock: CorridorClock;
  private readonly journeys: Journeys;
  private readonly bearings: Bearings;
  private readonly biases = new Biases();
  private readonly calibrator = new Calibrator(LATENESS_MS);
  private readonly consists = new Consists();
  private readonly unsettled = new Unsettled();
  /** Belong to no journey: a functional test's, or of a site out of service. Kept, for what they are may still change. */
  private readonly aside: Pass[] = [];
  private settledMs = Number.NEGATIVE_INFINITY;
  private latestMs = Number.NEGATIVE_INFINITY;
  private lookedAtTimeMs = Number.NEGATIVE_INFINITY;
  private restatedMs = Number.NaN;

  constructor(id: string, railroad: Railroad, book: RuleBook, sink: FollowSink, observe: ((taken: LookTaken) => void) | null = null) {
    this.line = new CorridorLine(id, railroad);
    this.id = id;
    this.book = new RuleBook(book.sets);
    this.sink = sink;
    const { book: lines, owned } = this.line;
    this.watch = new Watch(lines, owned, this.book, sink);
    this.clock = new CorridorClock((ms) => this.line.heardAt(ms));
    this.journeys = new Journeys(lines);
    this.bearings = new Bearings(id, lines, this.book, observe);
  }

  /** Nobody can say what time it is: see `Watch.isTimed`. */
  untimed(): void {
    this.watch.isTimed = false;
  }

  /** Whether any state of the railroad has the site. */
  knows(site: string): boolean {
    return this.line.book.sites.has(site);
  }

  /** A finished pass. */
  pass(pass: Pass): "used" | "late" | "repeated" {
    this.hear(pass.site, pass.endedMs, isPrompt(pass));
    if (this.line.owned.has(pass.site)) this.judgeClock(pass);
    this.settle(this.clock.nowMs);
    if (pass.endedMs <= this.settledMs) return "late";
    const at = this.unsettled.indexFor(pass);
    if (this.unsettled.at(at - 1)?.pass.id === pass.id) return "repeated";
    const known = this.consists.named(pass);
    const why = this.watch.leftOut(known);
    if (why !== null) return this.setAside(known, why);
    this.watch.came(known, this.clock.nowMs);
    if (pass.endedMs > this.latestMs) this.latestMs = pass.endedMs;
    if (at === this.unsettled.size) this.place(known);
    else this.placeAgain(at, known);
    this.publish();
    if (this.unsettled.size > MOST_UNSETTLED) this.settleThrough(this.unsettled.at(0)!.pass.endedMs);
    return "used";
  }

  /** A train's vehicles. One that comes after the train's passes changes what is said of them. */
  consist(consist: Consist): "used" | "repeated" {
    if (!this.consists.take(consist)) return "repeated";
    const first = this.unsettled.ofTrain(consist.train);
    if (first >= 0) {
      // Found anew: names from an earlier consist would speak for themselves.
      for (const placed of this.unsettled.all) {
        if (placed.pass.train === consist.train) placed.pass = { ...placed.pass, ...findVehicles(placed.pass, consist) };
      }
      this.placeAgain(first, null);
      this.publish();
    }
    return "used";
  }

  /** What people did about a warning or a site; a warning that is not known (yet) has it kept for it. */
  action(action: DeskAction): void {
    this.bearings.act(action);
    if (this.watch.action(action)) this.sortAgain();
    this.publish();
  }

  /** What a site says of itself. */
  report(report: SiteReport): void {
    const ms = Date.parse(report.time);
    this.hear(report.site, ms);
    if (!this.watch.report(report, this.clock.nowMs)) return;
    this.sortAgain();
    this.publish();
  }

  /** A record of a site that could not be read or used. */
  refused({ site, reason }: Refused): void {
    this.watch.refused(site, reason, this.clock.nowMs);
  }

  /** The watch over this corridor's sites. For showing. */
  get sites(): Watch {
    return this.watch;
  }

  /** Time has come to where a source says. */
  tick(tick: Tick): void {
    this.clock.tick(tick);
    this.lookAtTime();
  }

  /** What this corridor published once and kept in its own input. Changes nothing while it is still known. */
  recall(kept: Kept): void {
    if (kept.type === "calibration") {
      this.calibrator.adopt(kept);
      if (!this.biases.add(kept)) return;
      this.placeAgainFrom(kept.effectiveFromMs);
      this.publish();
    }
    if (kept.type === "kept-warning") this.bearings.adopt(kept.warning);
    if (kept.type === "rules") this.announced(kept.rules);
    if (kept.type === "line") this.lineAnnounced(kept);
  }

  /** A state of the railroad announced while running. Passes after its date that may still change are placed anew. */
  private lineAnnounced(line: LineAnnounced): void {
    const fromMs = this.line.take(line, this.lookedAtTimeMs, this.watch);
    if (fromMs !== null) this.lookAgain(this.unsettled.endedFrom(fromMs));
  }

  /** Rules announced while running. What they concern and may still change is looked at anew. */
  private announced(rules: Rules): void {
    if (!this.book.take(rules)) return;
    this.rulesAnnounced.push(rules);
    if (this.rulesAnnounced.length > MOST_ANNOUNCED) this.rulesAnnounced.shift();
    this.lookAgain(this.unsettled.endedFrom(Date.parse(rules.from)));
  }

  /** Passes from a position on are placed anew, and what changes by it is told; -1: there are none. */
  private lookAgain(first: number): void {
    if (first < 0) return;
    this.placeAgain(first, null);
    this.publish();
  }

  /** The end of a recorded feed: nothing more will come, so everything is settled. */
  finish(): void {
    this.settleThrough(Number.POSITIVE_INFINITY);
    this.watch.finish();
  }

  /** Looks taken at single bearings, after the screen of all. */
  get looks(): number {
    return this.bearings.looks;
  }

  private hear(site: string, ms: number, prompt = true): void {
    this.clock.hear(site, ms);
    this.watch.heard(site, ms, this.clock.nowMs, this.clock.latestMs, prompt);
    this.lookAtTime();
  }

  /** Marks lie on a grid, so that a re-fold from an earlier record finds the very same ones. */
  private lookAtTime(): void {
    const markMs = Math.floor(this.clock.nowMs / LOOK_AT_TIME_MS) * LOOK_AT_TIME_MS;
    if (!(markMs > this.lookedAtTimeMs)) return;
    this.lookedAtTimeMs = markMs;
    this.settle(markMs);
    this.line.turn(markMs, this.watch);
    this.watch.tick(markMs);
    this.restate(Math.floor(markMs / RESTATE_EVERY_MS) * RESTATE_EVERY_MS);
  }

  /** At every mark of its own grid: all that a re-fold from here could not find out by itself. */
  private restate(markMs: number): void {
    if (markMs === this.restatedMs) return;
    this.restatedMs = markMs;
    const time = new Date(markMs).toISOString();
    this.sink.keep({ type: "kept-mark", phase: "begun", time }, this.id);
    for (const rules of this.rulesAnnounced) this.sink.keep({ type: "rules", time, rules }, this.id);
    for (const { line } of this.line.toKeep(markMs)) this.sink.keep({ type: "line", time, line }, this.id);
    for (const calibration of this.biases.latest()) this.sink.keep(calibration, this.id);
    for (const warning of this.bearings.toKeep()) this.sink.keep({ type: "kept-warning", warning }, this.id);
    this.sink.keep({ type: "kept-watch", time, state: this.watch.state() }, this.id);
    this.sink.keep({ type: "kept-mark", phase: "ended", time }, this.id);
  }

  /** Goes on with what was known here, instead of what could be found out from the records folded so far. */
  restore({ watch, warnings }: Memory): void {
    this.bearings.restore(warnings);
    this.watch.restore(watch);
  }

  private judgeClock(pass: Pass): void {
    if (pass.clockAheadMs === undefined) this.watch.clockAgrees(pass);
    else this.watch.clock(pass, clockWords(pass.clockAheadMs, this.clock.isTicked));
  }

  /** How far ticks have come for this corridor: null without any, minus infinity until every source has ticked. */
  get tickedMs(): number | null {
    return this.clock.isTicked ? this.clock.nowMs : null;
  }

  /** Time has come to `nowMs`: settles what no late pass may change any more. */
  private settle(nowMs: number): void {
    const throughMs = nowMs - LATENESS_MS;
    if (throughMs <= this.settledMs) return;
    this.settleThrough(throughMs);
    this.publish();
  }

  private publish(): void {
    this.bearings.publish(this.latestMs, (warning) => this.sink.warning(warning));
  }

  /** `before`: how this very pass was levelled when it was placed last. */
  private place(pass: Pass, before: Levels | null = null): void {
    const levels = before !== null && isStillLevel(pass, before, this.biases) ? before : level(pass, this.biases);
    const { journey, leg, doubt } = this.journeys.place(pass, levels);
    shareVehicles(journey);
    this.unsettled.push({ pass, journey, leg, doubt });
    this.watch.placed(journey, leg, this.unitsDoubt(pass));
    const notes = this.watch.notes(journey, leg);
    if (notes.length > 0) leg.notes = notes;
    const out = this.watch.outAhead(leg);
    if (out.length > 0) leg.outAhead = out;
    this.bearings.look(journey, journey.legs.length - 1, this.consists.isKey(pass.train));
  }

  private unitsDoubt(pass: Pass): string | null {
    // The flag comes from the same judgement; only its words are asked for here.
    return pass.flags.includes("units-doubted")
      ? doubtUnits(pass, this.line.book.of(pass.site, pass.begunMs).sites.get(pass.site)?.units ?? null)
      : null;
  }

  /** Takes back everything from position `from` on and places it anew, after `late` where there is one. */
  private placeAgain(from: number, late: Pass | null): void {
    const again = this.unsettled.cut(from);
    const key = late ?? this.unsettled.at(from - 1)?.pass ?? justBefore(again[0]!.pass);
    this.bearings.rollBack(key);
    this.journeys.rollBack(key);
    if (late !== null) this.place(late);
    // One whose vehicles were named anew since is levelled anew: locomotives are levelled apart.
    for (const { pass, leg } of again) this.place(pass, leg.pass === pass ? leg.levels : null);
  }

  private settleThrough(throughMs: number): void {
    this.settledMs = throughMs;
    for (const placed of this.unsettled.settle(throughMs)) {
      this.calibrator.learn(placed.journey, placed.leg);
      this.sink.settled(placed.journey, placed.leg, placed.doubt, this.id);
      this.watch.settled(placed.journey, placed.leg);
      this.letGo(placed);
    }
    this.calibrate(throughMs);
    if (!Number.isFinite(throughMs)) return;
    this.journeys.forget(throughMs - JOURNEY_IDLE_MS);
    this.bearings.forget(throughMs - JOURNEY_IDLE_MS);
  }

  /** What only goes back beyond a settled leg, or lies further back than any look goes. */
  private letGo({ journey: { legs }, leg }: Placed): void {
    const at = legs.indexOf(leg);
    const before = legs[at - 1];
    if (before !== undefined) slim(before);
    const past = legs[at - HISTORY_LEGS];
    if (past !== undefined) bare(past);
    this.journeys.settled(leg);
    pack(leg, before ?? null);
  }

  /** Biases that come into force now. Passes already levelled without them are levelled and placed anew. */
  private calibrate(throughMs: number): void {
    let fromMs = Number.POSITIVE_INFINITY;
    for (const calibration of this.calibrator.due(throughMs)) {
      this.biases.add(calibration);
      fromMs = Math.min(fromMs, calibration.effectiveFromMs);
      // Those of lead-in sites as well: they level passes here, whoever publishes them.
      this.sink.keep(calibration, this.id);
      if (!this.line.owned.has(calibration.site)) continue;
      this.sink.calibration(calibration);
      this.watch.calibration(calibration);
    }
    if (fromMs < Number.POSITIVE_INFINITY) this.placeAgainFrom(fromMs);
  }

  /** A pass that is no train's, or of a site out of service: nothing is made of it, but it is told. */
  private setAside(pass: Pass, why: LeftOut): "used" | "repeated" {
    if (this.aside.some(({ id }) => id === pass.id)) return "repeated";
    this.aside.push(pass);
    if (this.aside.length > MOST_ASIDE) this.aside.shift();
    this.watch.aside(pass, why);
    this.sink.leftOut?.(pass, why, this.id);
    return "used";
  }

  /** A test begun or ended, a site taken out of service or returned: passes that came before that was known are sorted again. */
  private sortAgain(): void {
    const out = this.unsettled.all.flatMap(({ pass }) => {
      const why = this.watch.leftOut(pass);
      return why === null ? [] : [{ pass, why }];
    });
    const back = this.aside.filter((pass) => pass.endedMs > this.settledMs && this.watch.leftOut(pass) === null);
    const first = [...out.map(({ pass }) => pass), ...back].sort(comparePasses)[0];
    if (first === undefined) return;
    const from = this.unsettled.notBefore(first);
    const kept = from < 0 ? [] : this.unsettled.cut(from).map(({ pass }) => pass);
    const again = [...kept.filter((pass) => !out.some((one) => one.pass === pass)), ...back].sort(comparePasses);
    const key = justBefore(first);
    this.bearings.rollBack(key);
    this.journeys.rollBack(key);
    for (const pass of back) this.aside.splice(this.aside.indexOf(pass), 1);
    for (const { pass, why } of out) this.setAside(pass, why);
    for (const pass of again) this.place(pass);
  }

  private placeAgainFrom(fromMs: number): void {
    const first = this.unsettled.begunFrom(fromMs);
    if (first >= 0) this.placeAgain(first, null);
  }
}

/** A pass that was waited for says nothing of its site's clock by when it came. */
function isPrompt({ flags }: Pass): boolean {
  return !flags.includes("timed-out") && !flags.includes("missing-axles");
}

/** A key that sorts just before a pass. */
function justBefore(pass: Pass): Pass {
  return { ...pass, id: "" };
}

/** `byArrival`: held against when its records came; else against the other sites. */
function clockWords(aheadMs: number, byArrival: boolean): string {
  const minutes = Math.round(Math.abs(aheadMs) / 60_000);
  const much = minutes < 120 ? `${minutes} minutes` : `${Math.round(minutes / 60)} hours`;
  return `its clock is ${much} ${aheadMs > 0 ? "ahead of" : "behind"} ${byArrival ? "the time its records came" : "every other site"}.`;
}
