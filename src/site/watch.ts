import type { Calibration } from "../bearing/calibration.ts";
import type { DeskAction, Equipment, SiteReport } from "../feed/record.ts";
import type { Journey, Leg } from "../journey/journey.ts";
import type { Railroad } from "../line/railroad.ts";
import type { Pass } from "../pass/pass.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import { judgeDirection } from "./direction.ts";
import { judgeFault } from "./fault.ts";
import { outAhead, serviceNotes } from "./service-notes.ts";
import { judgeUnits } from "./units.ts";
import { type WatchParts, type WatchSink, watchParts } from "./watch-parts.ts";
import { restoreInto, stateOf, type WatchState } from "./watch-state.ts";

/** Why a pass is left out of journeys and judgements. */
export type LeftOut = "functional-test" | "out-of-service";

const HOUR_MS = 3_600_000;

/**
 * Watches the sites that a corridor owns, by what they send and by what their neighbours saw. A fold over records in the
 * log's order: no clock; time comes in by `tick`, and as `nowMs` beside each record (minus infinity while nobody can say).
 * Each condition has its file; here is only who hears what.
 */
export class Watch {
  /** The judges. For showing the sites as they stand: see `site-row.ts`. */
  readonly parts: WatchParts;
  /**
   * Whether anybody can say what time it is. Not where recorded days are fed in live: the records of one time come through
   * several partitions, each as far as it happens to be read. Then no site is called dead, cut off, late or off by its clock, and
   * none is said not to have told the desk.
   */
  isTimed = true;
  private nowMs = Number.NEGATIVE_INFINITY;
  private hourMs: number | null = null;
  private readonly lastPassMs = new Map<string, number>();
  private readonly owned: ReadonlySet<string>;

  /** `rules` null: the usual numbers. */
  constructor(railroad: Railroad, owned: ReadonlySet<string>, rules: RuleBook | null, sink: WatchSink) {
    this.owned = owned;
    this.parts = watchParts(railroad, owned, rules, sink, () => this.nowMs);
  }

  /**
   * Any record of a site, with the site's own time. It may have come ahead of `nowMs`, the time of our source furthest behind,
   * by as much as `latestMs`, that of the one furthest on: while we catch up, they are hours apart.
   */
  heard(site: string, ms: number, nowMs: number, latestMs = nowMs, prompt = true): void {
    this.parts.heartbeats.heard(site, ms, nowMs, latestMs);
    // What was waited for says nothing of the clock.
    if (prompt && this.isTimed) this.parts.clocks.heard(site, ms, nowMs, latestMs);
  }

  /** What a site says of itself. Answers true when which passes are left out may have changed by it. */
  report(record: SiteReport, nowMs: number): boolean {
    const { tests, heartbeats, selfTests, context } = this.parts;
    const isOwned = this.owned.has(record.site);
    switch (record.type) {
      case "heartbeat":
        tests.heartbeat(record);
        if (isOwned && heartbeats.heartbeat(record)) selfTests.heartbeat(record);
        return false;
      case "fault":
        if (isOwned) judgeFault(context, record);
        return false;
      case "equipment":
        // A test's reports are no train's, whoever owns the site.
        if (!tests.takes(record) && isOwned) this.alarm(record, nowMs);
        return false;
      case "functional-test":
        return tests.report(record);
    }
  }

  private alarm(record: Equipment, nowMs: number): void {
    this.parts.equipment.report(record, nowMs, this.isTimed);
    if (record.kind !== "integrity") this.parts.alarmRates.alarmed(record);
  }

  /** What a person did about a site. Answers true when which passes are left out may have changed by it. */
  action(action: DeskAction): boolean {
    const { context, book, service } = this.parts;
    if (action.site === undefined || !context.railroad.sites.has(action.site)) return false;
    if (service.act(action)) return true;
    if (this.owned.has(action.site)) book.act(action, context.rulesAt(Date.parse(action.time)).desk.shelveMaxHours);
    return false;
  }

  /** Why a pass is left out of journeys and judgements; null: it is a train like any other. */
  leftOut(pass: Pass): LeftOut | null {
    if (this.parts.tests.isTests(pass)) return "functional-test";
    return this.parts.service.isOut(pass.site, pass.track, pass.begunMs) ? "out-of-service" : null;
  }

  /** A pass that is left out. Seeing it twice changes nothing. */
  aside(pass: Pass, why: LeftOut): void {
    if (why === "functional-test") this.parts.tests.simulated(pass);
    this.noteTime(pass);
  }

  /** Time has come to `nowMs`. */
  tick(nowMs: number): void {
    if (!(nowMs > this.nowMs)) return;
    this.nowMs = nowMs;
    const { heartbeats, silence, tests, equipment, feedQuality, book, calendar, alarmRates, service } = this.parts;
    if (this.isTimed) heartbeats.tick(nowMs);
    silence.tick(nowMs);
    tests.tick(nowMs);
    equipment.tick(nowMs, this.isTimed);
    feedQuality.tick(nowMs);
    book.tick(nowMs);
    const hourMs = Math.floor(nowMs / HOUR_MS) * HOUR_MS;
    if (this.hourMs !== null && hourMs <= this.hourMs) return;
    this.hourMs = hourMs;
    calendar.tick(nowMs);
    alarmRates.weighAll(nowMs);
    service.tick(nowMs);
  }

  /** A pass was placed, perhaps not for the last time: what it says at once. Saying it twice changes nothing. */
  placed(journey: Journey, leg: Leg, unitsDoubt: string | null): void {
    const { pass } = leg;
    const { tests, silence, equipment, calendar, context } = this.parts;
    const isOwned = this.owned.has(pass.site);
    for (const report of tests.train(pass)) if (isOwned) this.alarm(report, this.nowMs);
    silence.placed(journey, leg);
    equipment.placed(journey, leg);
    for (const wrong of judgeDirection(context, journey, leg))
      calendar.ask(wrong.pass.site, wrong.pass.track, pass.endedMs, "direction turned round");
    if (!isOwned) return;
    this.noteTime(pass);
    judgeUnits(context, pass, unitsDoubt);
  }

  /** What must be said, wherever the pass is, of sites out of service that the train ran over before or comes to next. */
  notes(journey: Journey, leg: Leg): string[] {
    return serviceNotes(this.parts.context, this.parts.service, journey, leg);
  }

  /** Sites ahead of it that are out of service, and will not measure its train. */
  outAhead(leg: Leg): readonly string[] {
    return outAhead(this.parts.context, this.parts.service, leg);
  }

  private noteTime({ site, endedMs }: Pass): void {
    if (!(endedMs <= (this.lastPassMs.get(site) ?? Number.NEGATIVE_INFINITY))) this.lastPassMs.set(site, endedMs);
  }

  /** End of the last pass of a site; null before any. For showing. */
  lastPassOf(site: string): number | null {
    return this.lastPassMs.get(site) ?? null;
  }

  /** A leg that no late pass can change any more, of any site of the corridor: what it says of counts, spacings and scanners. */
  settled(journey: Journey, leg: Leg): void {
    const { pass } = leg;
    const { alarmRates, miscounts, scales, scanners, clocks } = this.parts;
    if (this.owned.has(pass.site)) {
      alarmRates.passed(pass.site, pass.axles);
      if (miscounts.settled(leg)) this.askForTest(pass, pass, "counts jumped");
    }
    for (const raised of scales.settled(journey, leg)) this.askForTest(raised, pass, "spacings jumped");
    for (const jumped of scanners.settled(journey, leg)) this.askForTest(jumped.pass, jumped.pass, "calibration jumped");
    clocks.settled(journey, leg);
  }

  private askForTest({ site, track }: Pass, { endedMs }: Pass, why: string): void {
    this.parts.calendar.ask(site, track, endedMs, why);
  }

  /** A scanner's learned bias. */
  calibration(record: Calibration): void {
    this.parts.scanners.calibration(record);
  }

  /** The site's clock is not believed: its passes are placed by arrival. */
  clock(pass: Pass, words: string): void {
    this.parts.clocks.refused(pass, words);
  }

  clockAgrees(pass: Pass): void {
    this.parts.clocks.believed(pass);
  }

  /** A pass of a site has come: for the first time, and not left out. */
  came(pass: Pass, nowMs: number): void {
    if (this.owned.has(pass.site)) this.parts.feedQuality.passed(pass.site, nowMs);
  }

  /** A record of a site that could not be read or used. */
  refused(site: string, reason: string, nowMs: number): void {
    this.parts.feedQuality.refused(site, reason, nowMs);
  }

  /** A site is on the line from here on, and owned. */
  added(site: string): void {
    this.parts.clocks.add(site);
    this.parts.alarmRates.add(site);
  }

  /**
   * A site, or a track of it (`device`), is not on the line any more: nothing is held against it from here on, nor what was
   * learned of it against one that comes back under its name.
   */
  gone(site: string, device: string, atMs: number): void {
    const { book, heartbeats, calendar, clocks, alarmRates, feedQuality } = this.parts;
    const reason = `${device === "" ? site : `track ${device} of ${site}`} is not on the line any more`;
    if (device === "") {
      heartbeats.gone(site, atMs, reason);
      clocks.gone(site);
      alarmRates.gone(site);
      feedQuality.gone(site);
      this.lastPassMs.delete(site);
    }
    calendar.gone(site, device);
    const { silence, miscounts, scales, scanners, selfTests, equipment } = this.parts;
    for (const judge of [silence, miscounts, scales, scanners, selfTests, equipment]) judge.gone(site, device);
    book.clearAll(site, device, atMs, reason);
    for (const one of book.openAt(site))
      if (one.kind === "out-of-service" && (device === "" || one.device === device)) book.clear(site, one.device, one.kind, atMs, reason);
  }

  /** The end of a recorded feed. */
  finish(): void {
    this.parts.tests.finish();
  }

  /** All that is remembered. */
  state(): WatchState {
    return stateOf(this.parts, this.hourMs);
  }

  /** Takes a remembered state in; what is heard after it was made goes on from there. */
  restore(state: WatchState): void {
    restoreInto(this.parts, state);
    this.hourMs = state.hourMs;
  }
}
