import type { Calibration } from "../bearing/calibration.ts";
import type { DeskAction, Equipment, Fault, SiteReport } from "../feed/record.ts";
import type { Journey, Leg } from "../journey/journey.ts";
import type { Railroad } from "../line/railroad.ts";
import type { Pass } from "../pass/pass.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import { limitsOf } from "../warning/rule-set.ts";
import { type AlarmRateState, AlarmRates } from "./alarm-rate.ts";
import { type ClockState, Clocks } from "./clock.ts";
import type { SiteCondition } from "./condition.ts";
import { ConditionBook, type ConditionBookState } from "./condition-book.ts";
import { judgeDirection } from "./direction.ts";
import { EquipmentReports, type EquipmentSeen } from "./equipment.ts";
import { FeedQuality, type FeedQualityState } from "./feed-quality.ts";
import type { FunctionalTestRecord } from "./functional-test.ts";
import { FunctionalTests, type FunctionalTestsState } from "./functional-tests.ts";
import { Heartbeats, type HeartbeatsState } from "./heartbeats.ts";
import { type MiscountState, Miscounts } from "./miscount.ts";
import { OutOfServiceBook, type OutOfServiceSpell } from "./out-of-service.ts";
import { type ScaleState, ScaleWatch } from "./scale.ts";
import { ScannerWatch, type ScannerWatchState } from "./scanner-watch.ts";
import { type SelfTestState, SelfTests } from "./self-test.ts";
import { Silence, type SilenceState } from "./silence.ts";
import { USUAL_SITE_RULES } from "./site-rules.ts";
import { TestCalendar, type TestCalendarState } from "./test-calendar.ts";
import type { WatchContext } from "./watch-context.ts";

/** Where the watch puts what comes out of it, in order. */
export interface WatchSink {
  condition(condition: SiteCondition): void;
  functionalTest?: ((record: FunctionalTestRecord) => void) | undefined;
  equipment?: ((seen: EquipmentSeen) => void) | undefined;
}

/** Why a pass is left out of journeys and judgements. */
export type LeftOut = "functional-test" | "out-of-service";

/** All that the watch remembers, as plain data: for a record that outlives what a restart folds again. */
export interface WatchState {
  version: 1;
  conditions: ConditionBookState;
  heartbeats: HeartbeatsState;
  silence: SilenceState;
  clocks: Record<string, ClockState>;
  miscounts: MiscountState;
  scales: ScaleState;
  scanners: ScannerWatchState;
  selfTests: SelfTestState;
  feedQuality: FeedQualityState;
  alarmRates: AlarmRateState;
  tests: FunctionalTestsState;
  calendar: TestCalendarState;
  outOfService: OutOfServiceSpell[];
  hourMs: number | null;
}

const HOUR_MS = 3_600_000;

/**
 * Watches the sites that a corridor owns, by what they send and by what their neighbours saw. A fold over records in the
 * log's order: no clock; time comes in by `tick`, and as `nowMs` beside each record (minus infinity while nobody can say).
 * Each condition has its file; here is only who hears what.
 */
export class Watch {
  private readonly context: WatchContext;
  private readonly book: ConditionBook;
  private readonly rules: RuleBook | null;
  private readonly heartbeats: Heartbeats;
  private readonly silence: Silence;
  private readonly clocks: Clocks;
  private readonly miscounts: Miscounts;
  private readonly scales: ScaleWatch;
  private readonly scanners: ScannerWatch;
  private readonly selfTests: SelfTests;
  private readonly feedQuality: FeedQuality;
  private readonly alarmRates: AlarmRates;
  private readonly tests: FunctionalTests;
  private readonly calendar: TestCalendar;
  private readonly equipment: EquipmentReports;
  private readonly outOfService = new OutOfServiceBook();
  private nowMs = Number.NEGATIVE_INFINITY;
  private hourMs: number | null = null;
  private readonly lastPassMs = new Map<string, number>();
  private readonly alarmedPasses = new Map<string, string>();

  /** `rules` null: the usual numbers. */
  constructor(railroad: Railroad, owned: ReadonlySet<string>, rules: RuleBook | null, sink: WatchSink) {
    this.rules = rules;
    this.book = new ConditionBook(
      (condition) => sink.condition(condition),
      (site, device) => this.outOfService.isOut(site, device, this.nowMs),
    );
    const rulesAt = (ms: number) => rules?.at(ms).sites ?? USUAL_SITE_RULES;
    const context: WatchContext = { railroad, owned, book: this.book, rulesAt };
    this.context = context;
    this.heartbeats = new Heartbeats(context);
    this.silence = new Silence(context, this.heartbeats);
    this.clocks = new Clocks(context);
    this.miscounts = new Miscounts(context);
    this.scales = new ScaleWatch(context);
    this.scanners = new ScannerWatch(context);
    this.selfTests = new SelfTests(context);
    this.feedQuality = new FeedQuality(context);
    this.alarmRates = new AlarmRates(context);
    this.calendar = new TestCalendar(context);
    this.equipment = new EquipmentReports(
      context,
      (site, ms) => this.limitF(site, ms),
      (seen) => sink.equipment?.(seen),
    );
    const ruleId = (ms: number) => rules?.at(ms).id ?? "usual";
    this.tests = new FunctionalTests(context, (record) => this.tested(record, sink), ruleId);
  }

  private limitF(site: string, ms: number): number {
    if (this.rules === null) return Number.POSITIVE_INFINITY;
    return limitsOf(this.rules.at(ms), this.context.railroad.sites.get(site)?.kind ?? "", false).bearingF;
  }

  private tested(record: FunctionalTestRecord, sink: WatchSink): void {
    sink.functionalTest?.(record);
    this.calendar.tested(record);
    if (record.result === "passed") this.selfTests.proved(record.site, record.track);
  }

  /**
   * Any record of a site, with the site's own time. It may have come ahead of `nowMs`, the time of our source furthest behind,
   * by as much as `latestMs`, that of the one furthest on: while we catch up, they are hours apart.
   */
  heard(site: string, ms: number, nowMs: number, latestMs = nowMs, prompt = true): void {
    this.heartbeats.heard(site, ms, nowMs, latestMs);
    // What was waited for says nothing of the clock.
    if (prompt) this.clocks.heard(site, ms, nowMs, latestMs);
  }

  /** What a site says of itself. Answers true when which passes are left out may have changed by it. */
  report(record: SiteReport, nowMs: number): boolean {
    const isOwned = this.context.owned.has(record.site);
    switch (record.type) {
      case "heartbeat":
        this.tests.heartbeat(record);
        if (!isOwned) return false;
        if (this.heartbeats.heartbeat(record)) this.selfTests.heartbeat(record);
        return false;
      case "fault":
        if (isOwned) this.fault(record);
        return false;
      case "equipment":
        // A test's reports are no train's, whoever owns the site.
        if (!this.tests.takes(record) && isOwned) this.alarm(record, nowMs);
        return false;
      case "functional-test":
        return this.tests.report(record);
    }
  }

  private alarm(record: Equipment, nowMs: number): void {
    this.equipment.report(record, nowMs);
    if (record.kind === "integrity" || this.alarmedPasses.get(record.site) === record.pass) return;
    this.alarmedPasses.set(record.site, record.pass);
    this.alarmRates.alarmed(record.site);
  }

  private fault(record: Fault): void {
    const atMs = Date.parse(record.time);
    if (record.cleared) {
      this.book.clear(record.site, record.device, "fault", atMs, `the site says that ${record.fault} is over`);
      return;
    }
    this.book.raise({
      site: record.site,
      device: record.device,
      kind: "fault",
      atMs,
      words: `${record.site} reports a fault of ${record.device}: ${record.fault}.`,
      advice: "Take readings of this device with care until the site has been looked at.",
      evidence: `reported at ${record.time}`,
    });
  }

  /** What a person did about a site. Answers true when which passes are left out may have changed by it. */
  action(action: DeskAction): boolean {
    if (action.site === undefined || !this.context.railroad.sites.has(action.site)) return false;
    const atMs = Date.parse(action.time);
    const spell = this.outOfService.act(action);
    if (this.context.owned.has(action.site)) {
      if (spell === null) this.book.act(action, this.context.rulesAt(atMs).desk.shelveMaxHours);
      else if (spell.toMs === null) this.takeOut(spell);
      else this.book.clear(spell.site, spell.device, "out-of-service", spell.toMs, `returned to service by ${action.by}`);
    }
    return spell !== null;
  }

  private takeOut(spell: OutOfServiceSpell): void {
    const { site, device, fromMs, by, reason, returnMs } = spell;
    const what = device === "" ? site : `${device} of ${site}`;
    this.book.clearAll(site, device, fromMs, `${what} was taken out of service and is not judged until it returns`);
    const until = returnMs === null ? undefined : new Date(returnMs).toISOString();
    this.book.raise({
      site,
      device,
      kind: "out-of-service",
      atMs: fromMs,
      words: `${what} is out of service${until === undefined ? "" : ` until ${until}`}: ${reason === "" ? "no reason given" : reason}. Its trains are not joined, followed or warned of there.`,
      advice: "Bearings are last seen at the sites beside it. Return it to service only after a functional test.",
      evidence: `by ${by}`,
      by,
      reason,
      ...(until === undefined ? {} : { until }),
    });
  }

  /** Why a pass is left out of journeys and judgements; null: it is a train like any other. */
  leftOut(pass: Pass): LeftOut | null {
    if (this.tests.isTests(pass)) return "functional-test";
    return this.outOfService.isOut(pass.site, pass.track, pass.begunMs) ? "out-of-service" : null;
  }

  /** A pass that is left out. Seeing it twice changes nothing. */
  aside(pass: Pass, why: LeftOut): void {
    if (why === "functional-test") this.tests.simulated(pass);
    this.noteTime(pass);
  }

  /** Time has come to `nowMs`. */
  tick(nowMs: number): void {
    if (!(nowMs > this.nowMs)) return;
    this.nowMs = nowMs;
    this.heartbeats.tick(nowMs);
    this.silence.tick(nowMs);
    this.tests.tick(nowMs);
    this.equipment.tick(nowMs);
    this.feedQuality.tick(nowMs);
    this.book.tick(nowMs);
    const hourMs = Math.floor(nowMs / HOUR_MS) * HOUR_MS;
    if (this.hourMs !== null && hourMs <= this.hourMs) return;
    this.hourMs = hourMs;
    this.calendar.tick(nowMs);
    this.alarmRates.weighAll(nowMs);
    for (const spell of this.outOfService.standing()) this.shouldReturn(spell, nowMs);
  }

  private shouldReturn({ site, device, returnMs, by }: OutOfServiceSpell, nowMs: number): void {
    if (returnMs === null || nowMs < returnMs || !this.context.owned.has(site)) return;
    const due = new Date(returnMs).toISOString();
    this.book.raise({
      site,
      device,
      kind: "out-of-service",
      atMs: nowMs,
      words: `${device === "" ? site : `${device} of ${site}`} was to return to service at ${due} and has not. Its trains are still not joined, followed or warned of there.`,
      advice: "Return it to service after a functional test, or say until when it stays out.",
      evidence: `to return at ${due}, taken out by ${by}`,
    });
  }

  /** A pass was placed, perhaps not for the last time: what it says at once. Saying it twice changes nothing. */
  placed(journey: Journey, leg: Leg, unitsDoubt: string | null): void {
    const { pass } = leg;
    for (const report of this.tests.train(pass)) if (this.context.owned.has(pass.site)) this.alarm(report, this.nowMs);
    this.silence.placed(journey, leg);
    this.equipment.placed(journey, leg);
    for (const wrong of judgeDirection(this.context, journey, leg))
      this.calendar.ask(wrong.pass.site, wrong.pass.track, pass.endedMs, "direction turned round");
    if (!this.context.owned.has(pass.site)) return;
    this.noteTime(pass);
    this.judgeUnits(pass, unitsDoubt);
  }

  private noteTime({ site, endedMs }: Pass): void {
    if (!(endedMs <= (this.lastPassMs.get(site) ?? Number.NEGATIVE_INFINITY))) this.lastPassMs.set(site, endedMs);
  }

  private judgeUnits(pass: Pass, unitsDoubt: string | null): void {
    if (unitsDoubt === null) {
      this.book.clear(pass.site, "", "units", pass.endedMs, `pass ${pass.id} is plausible again`);
      return;
    }
    this.book.raise({
      site: pass.site,
      device: "",
      kind: "units",
      atMs: pass.endedMs,
      words: `${pass.site}: ${unitsDoubt}`,
      advice: "Check the units declared for this site in the line file. Until then its readings are not followed.",
      evidence: `pass ${pass.id}`,
    });
  }

  /** A leg that no late pass can change any more, of any site of the corridor: what it says of counts, spacings and scanners. */
  settled(journey: Journey, leg: Leg): void {
    const { pass } = leg;
    const isOwned = this.context.owned.has(pass.site);
    if (isOwned) {
      this.alarmRates.passed(pass.site, pass.axles);
      if (this.miscounts.settled(leg)) this.calendar.ask(pass.site, pass.track, pass.endedMs, "counts jumped");
    }
    for (const raised of this.scales.settled(journey, leg)) this.calendar.ask(raised.site, raised.track, pass.endedMs, "spacings jumped");
    for (const { pass: jumped } of this.scanners.settled(journey, leg))
      this.calendar.ask(jumped.site, jumped.track, jumped.endedMs, "calibration jumped");
    this.judgeRunning(journey, leg);
  }

  /** Running times of the leg before, between its neighbours: a clock that is off makes one way long and the other short. */
  private judgeRunning(journey: Journey, leg: Leg): void {
    const at = journey.legs.indexOf(leg);
    const middle = journey.legs[at - 1];
    const first = journey.legs[at - 2];
    if (middle === undefined || first === undefined || !(leg.miles > middle.miles && middle.miles > first.miles)) return;
    const share = (middle.miles - first.miles) / (leg.miles - first.miles);
    const expectedMs = first.pass.begunMs + share * (leg.pass.begunMs - first.pass.begunMs);
    this.clocks.ran(middle.pass.site, middle.pass.begunMs - expectedMs);
  }

  /** A scanner's learned bias. */
  calibration(record: Calibration): void {
    this.scanners.calibration(record);
  }

  /** The site's clock is not believed: its passes are placed by arrival. */
  clock(pass: Pass, words: string): void {
    this.clocks.refused(pass, words);
  }

  clockAgrees(pass: Pass): void {
    this.clocks.believed(pass);
  }

  /** A record of a site that could not be read or used. */
  refused(site: string, reason: string, nowMs: number): void {
    this.feedQuality.refused(site, reason, nowMs);
  }

  /** The end of a recorded feed. */
  finish(): void {
    this.tests.finish();
  }

  /** A finished test known from before: published once, read back. */
  adoptTest(record: FunctionalTestRecord): void {
    if (record.closed === "ended" && record.result === "passed") this.calendar.tested(record);
  }

  /** All sites as they stand: see `site-table.ts`. */
  get parts() {
    const {
      book,
      heartbeats,
      silence,
      clocks,
      miscounts,
      scanners,
      calendar,
      feedQuality,
      tests,
      outOfService,
      lastPassMs,
      nowMs,
      context,
    } = this;
    return {
      book,
      heartbeats,
      silence,
      clocks,
      miscounts,
      scanners,
      calendar,
      feedQuality,
      tests,
      outOfService,
      lastPassMs,
      nowMs,
      context,
    };
  }

  state(): WatchState {
    return structuredClone({
      version: 1,
      conditions: this.book.state(),
      heartbeats: this.heartbeats.state(),
      silence: this.silence.state(),
      clocks: this.clocks.state(),
      miscounts: this.miscounts.state(),
      scales: this.scales.state(),
      scanners: this.scanners.state(),
      selfTests: this.selfTests.state(),
      feedQuality: this.feedQuality.state(),
      alarmRates: this.alarmRates.state(),
      tests: this.tests.state(),
      calendar: this.calendar.state(),
      outOfService: this.outOfService.state(),
      hourMs: this.hourMs,
    });
  }

  /** Takes a remembered state in; what is heard after it was made goes on from there. */
  restore(state: WatchState): void {
    this.book.restore(state.conditions);
    this.heartbeats.restore(state.heartbeats);
    this.silence.restore(state.silence);
    this.clocks.restore(state.clocks);
    this.miscounts.restore(state.miscounts);
    this.scales.restore(state.scales);
    this.scanners.restore(state.scanners);
    this.selfTests.restore(state.selfTests);
    this.feedQuality.restore(state.feedQuality);
    this.alarmRates.restore(state.alarmRates);
    this.tests.restore(state.tests);
    this.calendar.restore(state.calendar);
    this.outOfService.restore(state.outOfService);
    this.hourMs = state.hourMs;
  }
}
