import { ambientF, edgeOf } from "../feed/edge.ts";
import type { Equipment, FunctionalTest, Heartbeat } from "../feed/record.ts";
import type { Pass } from "../pass/pass.ts";
import type { FunctionalTestRecord, OpenTest, TestTime } from "./functional-test.ts";
import { recordOf } from "./functional-test-record.ts";
import { usualDevices } from "./test-devices.ts";
import { ownMs, testPassOf } from "./test-pass.ts";
import type { Surroundings } from "./test-verdict.ts";
import type { WatchContext } from "./watch-context.ts";

/** After its end a test waits this long for what is still on its way. Assumption: the feeds of one site are seconds apart. */
export const TEST_SETTLE_MS = 2 * 60_000;
/** Kept of one test; more are not kept. */
export const MOST_TEST_REPORTS = 500;
export const MOST_TEST_PASSES = 50;
/** Times of tests kept of all sites, for passes that come late; the oldest go. */
export const MOST_TEST_TIMES = 500;
/** An ambient older than this is not held against anything. */
const AMBIENT_KEEPS_MS = 2 * 3_600_000;
const MINUTE_MS = 60_000;

interface Ambient {
  ambientF: number;
  atMs: number;
}

export interface FunctionalTestsState {
  open: OpenTest[];
  times: TestTime[];
  ambients: Record<string, Ambient>;
}

/**
 * The functional tests: opened by `functional-test begun`, closed by its end, by a time-out, or by another begin. Which passes
 * and reports belong to a test is told by site, track and the site's own time, so it does not matter in which order they come.
 *
 * ```
 *   begun ──► open ──── ended ─────► waiting a little ──► closed: ended
 *              │ └─ no end for long ────────────────────► closed: left-open   (its condition stays until an end or a begin)
 *              └─ begun again, later ───────────────────► closed: begun-again (and a new one is open)
 * ```
 * A pass of more axles than any simulated train has is a train: it is followed like any other and answers for no device.
 */
export class FunctionalTests {
  private readonly context: WatchContext;
  private readonly publish: (record: FunctionalTestRecord) => void;
  private readonly ruleIdAt: (ms: number) => string;
  private open: OpenTest[] = [];
  private times: TestTime[] = [];
  private readonly ambients = new Map<string, Ambient>();

  constructor(context: WatchContext, publish: (record: FunctionalTestRecord) => void, ruleIdAt: (ms: number) => string) {
    this.context = context;
    this.publish = publish;
    this.ruleIdAt = ruleIdAt;
  }

  heartbeat(record: Heartbeat): void {
    const site = this.context.railroad.sites.get(record.site);
    const edge = site === undefined ? undefined : edgeOf(site);
    const value = edge === undefined ? Number.NaN : ambientF(edge, record.ambient);
    if (!Number.isNaN(value)) this.ambients.set(record.site, { ambientF: value, atMs: Date.parse(record.time) });
  }

  /** Begin or end of a test. Answers true when what belongs to a test may have changed. */
  report(record: FunctionalTest): boolean {
    const ms = Date.parse(record.time);
    const running = this.running(record.site, record.track);
    if (record.phase === "begun") return this.begin(record, ms, running);
    if (running === undefined) {
      this.context.book.clear(record.site, record.track, "test-open", ms, "its end was sent after all");
      return false;
    }
    if (ms < running.begunMs) return false;
    running.endedMs = ms;
    this.timeOf(running).toMs = ms;
    return true;
  }

  private begin(record: FunctionalTest, ms: number, running: OpenTest | undefined): boolean {
    const track = this.context.railroad.sites.get(record.site)?.tracks.find(({ id }) => id === record.track);
    if (track === undefined) return false;
    if (running !== undefined) {
      // The same begin, or an older one that comes late: nothing new.
      if (ms <= running.begunMs) return false;
      this.timeOf(running).toMs = ms;
      this.close(running, ms, "begun-again");
    }
    const { tester, site } = record;
    this.context.book.clear(site, record.track, "test-open", ms, "another test was begun");
    const expects = record.expects === undefined || record.expects.length === 0 ? usualDevices(track) : [...record.expects];
    const conditionsAsFound = this.conditionsOf(site, record.track);
    this.open.push({
      site,
      track: record.track,
      tester,
      begunMs: ms,
      endedMs: null,
      expects,
      reports: [],
      passes: [],
      trains: [],
      conditionsAsFound,
    });
    this.times.push({ site, track: record.track, fromMs: ms, toMs: ms + this.leftOpenMs(ms) });
    if (this.times.length > MOST_TEST_TIMES) this.times.shift();
    return true;
  }

  /** A site's own report: true when it is a test's and concerns no train. */
  takes(report: Equipment): boolean {
    const ms = Date.parse(report.time);
    if (!this.isTime(report.site, report.track, ms)) return false;
    const test = this.open.find((one) => isIn(one, report.site, report.track, ms));
    // Of a test long closed: still no train's.
    if (test === undefined) return true;
    if (test.trains.some((id) => id.startsWith(`${report.site}/${report.track}/${report.pass}@`))) return false;
    if (test.reports.length < MOST_TEST_REPORTS) test.reports.push(report);
    return true;
  }

  /** Whether a pass is a test's and no train's. */
  isTests(pass: Pass): boolean {
    if (this.times.length === 0) return false;
    const begunMs = ownMs(pass);
    if (!this.isTime(pass.site, pass.track, begunMs)) return false;
    return Math.max(pass.axles, pass.axlesSaid ?? 0) <= this.context.rulesAt(begunMs).tests.simulatedTrainAxlesMost;
  }

  /** A pass that is a test's. Seeing it twice changes nothing. */
  simulated(pass: Pass): void {
    const test = this.open.find((one) => isIn(one, pass.site, pass.track, ownMs(pass)));
    if (test === undefined || test.passes.length >= MOST_TEST_PASSES || test.passes.some((one) => one.id === pass.id)) return;
    test.passes.push(testPassOf(pass));
    test.passes.sort((a, b) => a.begunMs - b.begunMs || (a.id < b.id ? -1 : 1));
  }

  /** A real train, perhaps during a test: answers with the site's reports that are the train's after all. */
  train(pass: Pass): Equipment[] {
    if (this.open.length === 0) return [];
    const test = this.open.find((one) => isIn(one, pass.site, pass.track, ownMs(pass)));
    if (test === undefined || test.trains.includes(pass.id)) return [];
    if (test.trains.length < MOST_TEST_PASSES) test.trains.push(pass.id);
    const its = test.reports.filter((report) => report.pass === pass.pass);
    test.reports = test.reports.filter((report) => report.pass !== pass.pass);
    return its;
  }

  /** Time has come to `nowMs`: tests that ended are closed, those left open are told of. */
  tick(nowMs: number): void {
    for (const test of [...this.open]) {
      if (test.endedMs !== null) {
        if (nowMs >= test.endedMs + TEST_SETTLE_MS) this.close(test, test.endedMs, "ended");
        continue;
      }
      const untilMs = test.begunMs + this.leftOpenMs(test.begunMs);
      if (nowMs < untilMs) continue;
      const { said } = this.context;
      this.close(test, untilMs, "left-open");
      this.context.book.raise({
        site: test.site,
        device: test.track,
        kind: "test-open",
        atMs: nowMs,
        words: `The functional test of ${said.track(test.site, test.track)}, begun at ${said.time(test.begunMs)} by ${test.tester}, was never ended. From ${said.time(untilMs)} on its passes are trains again.`,
        advice: "Ask the tester how the site was left. Short trains in that time were taken for simulated ones.",
        evidence: `begun at ${said.time(test.begunMs)}`,
      });
    }
  }

  /** The end of a recorded feed: what has ended is closed, what is open stays so. */
  finish(): void {
    for (const test of [...this.open]) if (test.endedMs !== null) this.close(test, test.endedMs, "ended");
  }

  /** The open test of a track. For showing. */
  running(site: string, track: string): OpenTest | undefined {
    return this.open.find((one) => one.site === site && one.track === track && one.endedMs === null);
  }

  private close(test: OpenTest, atMs: number, closed: FunctionalTestRecord["closed"]): void {
    this.open = this.open.filter((one) => one !== test);
    if (!this.context.owned.has(test.site)) return;
    const { site, track, begunMs } = test;
    const { said } = this.context;
    this.publish(recordOf(test, atMs, closed, this.around(test, atMs), this.conditionsOf(site, track), this.ruleIdAt(begunMs), said));
  }

  private around(test: OpenTest, atMs: number): Surroundings {
    const fresh = (site: string) => {
      const known = this.ambients.get(site);
      return known !== undefined && Math.abs(atMs - known.atMs) <= AMBIENT_KEEPS_MS ? known.ambientF : Number.NaN;
    };
    const links = this.context.railroad.links.filter(({ from, to }) => from === test.site || to === test.site);
    const neighbours = links.map(({ from, to }) => fresh(from === test.site ? to : from)).filter((value) => !Number.isNaN(value));
    const mean = neighbours.reduce((sum, value) => sum + value, 0) / neighbours.length;
    return {
      edge: edgeOf(this.context.railroad.sites.get(test.site)!),
      ambientF: fresh(test.site),
      neighboursAmbientF: mean,
      rules: this.context.rulesAt(test.begunMs),
    };
  }

  private conditionsOf(site: string, track: string): string[] {
    const conditions = this.context.book.openAt(site);
    return conditions
      .filter(({ device }) => device === "" || device === track || device.startsWith(`${track}/`))
      .map(({ kind, device }) => `${kind} ${device}`.trim());
  }

  private isTime(site: string, track: string, ms: number): boolean {
    return this.times.some((one) => one.site === site && one.track === track && ms >= one.fromMs && ms <= one.toMs);
  }

  private timeOf({ site, track, begunMs }: OpenTest): TestTime {
    const known = this.times.find((one) => one.site === site && one.track === track && one.fromMs === begunMs);
    return known ?? { site, track, fromMs: begunMs, toMs: begunMs };
  }

  private leftOpenMs(ms: number): number {
    return this.context.rulesAt(ms).tests.leftOpenMinutes * MINUTE_MS;
  }

  state(): FunctionalTestsState {
    return { open: this.open, times: this.times, ambients: Object.fromEntries(this.ambients) };
  }

  restore(state: FunctionalTestsState): void {
    const copy = structuredClone(state);
    this.open = copy.open;
    this.times = copy.times;
    this.ambients.clear();
    for (const [site, ambient] of Object.entries(copy.ambients)) this.ambients.set(site, ambient);
  }
}

function isIn(test: OpenTest, site: string, track: string, ms: number): boolean {
  return test.site === site && test.track === track && ms >= test.begunMs && (test.endedMs === null || ms <= test.endedMs);
}
