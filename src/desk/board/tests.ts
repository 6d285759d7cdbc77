import { ambientF, type Edge, edgeOf } from "../../feed/edge.ts";
import type { Equipment, FunctionalTest, Heartbeat } from "../../feed/record.ts";
import type { Railroad } from "../../line/railroad.ts";
import type { Pass } from "../../pass/pass.ts";
import type { FunctionalTestRecord, OpenTest } from "../../site/functional-test.ts";
import { type SiteRules, siteRulesSchema } from "../../site/site-rules.ts";
import { usualDevices } from "../../site/test-devices.ts";
import { testPassOf } from "../../site/test-pass.ts";
import { proofsOf } from "../../site/test-verdict.ts";
import type { RuleBook } from "../../warning/rule-book.ts";

/** Tests kept, reports and simulated trains kept of one. */
export const MOST_TESTS = 1_000;
export const MOST_TEST_REPORTS = 500;
export const MOST_TEST_PASSES = 50;

/** A functional test as far as it has come: what is proved is judged by the engine's own judge; its record has the last word. */
export interface TestRun extends OpenTest {
  id: string;
  record: FunctionalTestRecord | null;
}

/** The numbers that hold where the rules say nothing about sites. */
const USUAL: SiteRules = siteRulesSchema.parse({});

/** Functional tests as they run, and the records of those that are over: a fold over site reports, passes and records. */
export class Tests {
  private readonly railroad: Railroad;
  private readonly book: RuleBook;
  private readonly ambients = new Map<string, number>();
  private readonly runs = new Map<string, TestRun>();

  constructor(railroad: Railroad, book: RuleBook) {
    this.railroad = railroad;
    this.book = book;
  }

  /** What the site sends, as it stands now: its units may change. */
  private edgeOf(id: string): Edge | undefined {
    const site = this.railroad.sites.get(id);
    return site === undefined ? undefined : edgeOf(site);
  }

  heartbeat(record: Heartbeat): void {
    const edge = this.edgeOf(record.site);
    const value = edge === undefined ? Number.NaN : ambientF(edge, record.ambient);
    if (!Number.isNaN(value)) this.ambients.set(record.site, value);
  }

  /** Begin or end of a test; whether it changed anything. */
  report({ site, track, phase, tester, time, expects }: FunctionalTest): boolean {
    const ms = Date.parse(time);
    if (phase === "ended") {
      const run = this.runningAt(site, track, ms);
      if (run === undefined) return false;
      run.endedMs = ms;
      return true;
    }
    const at = this.railroad.sites.get(site)?.tracks.find((one) => one.id === track);
    const id = `T-${site}-${track}-${time.replace(/[-:.]/g, "")}`;
    if (at === undefined || this.runs.has(id)) return false;
    const devices = expects === undefined || expects.length === 0 ? usualDevices(at) : [...expects];
    this.runs.set(id, {
      id,
      site,
      track,
      tester,
      begunMs: ms,
      endedMs: null,
      expects: devices,
      reports: [],
      passes: [],
      trains: [],
      conditionsAsFound: [],
      record: null,
    });
    if (this.runs.size > MOST_TESTS) this.runs.delete(this.runs.keys().next().value as string);
    return true;
  }

  equipment(report: Equipment): boolean {
    const run = this.runningAt(report.site, report.track, Date.parse(report.time));
    if (run === undefined || run.reports.length >= MOST_TEST_REPORTS) return false;
    run.reports.push(report);
    return true;
  }

  /** A pass during a test: of so few axles a simulated train, of more a real one that answers for nothing. */
  pass(pass: Pass): boolean {
    const run = this.runningAt(pass.site, pass.track, pass.begunMs);
    if (run === undefined || run.passes.length >= MOST_TEST_PASSES || run.passes.some((one) => one.id === pass.id)) return false;
    if (pass.axles > this.rulesAt(pass.begunMs).tests.simulatedTrainAxlesMost) {
      if (run.trains.includes(pass.id)) return false;
      run.trains.push(pass.id);
    } else run.passes.push(testPassOf(pass));
    return true;
  }

  record(record: FunctionalTestRecord): boolean {
    const begunMs = Date.parse(record.begunAt);
    const known =
      this.runs.get(record.id) ??
      [...this.runs.values()].find((run) => run.site === record.site && run.track === record.track && run.begunMs === begunMs);
    if (known?.record != null) return false;
    const { id, site, track, tester } = record;
    const endedMs = record.endedAt === null ? Date.parse(record.time) : Date.parse(record.endedAt);
    const expects = record.devices.map((device) => device.device);
    const run: TestRun = known ?? {
      id,
      site,
      track,
      tester,
      begunMs,
      endedMs,
      expects,
      reports: [],
      passes: [],
      trains: [],
      conditionsAsFound: [],
      record: null,
    };
    run.record = record;
    run.endedMs = endedMs;
    this.runs.set(run.id, run);
    return true;
  }

  /** What is proved of each device so far. */
  proofs(run: TestRun): FunctionalTestRecord["devices"] {
    if (run.record !== null) return run.record.devices;
    const edge = this.edgeOf(run.site);
    if (edge === undefined) return [];
    return proofsOf(run, {
      edge,
      ambientF: this.ambients.get(run.site) ?? Number.NaN,
      neighboursAmbientF: Number.NaN,
      rules: this.rulesAt(run.begunMs),
    });
  }

  all(): TestRun[] {
    return [...this.runs.values()];
  }

  private rulesAt(ms: number): SiteRules {
    return this.book.at(ms).sites ?? USUAL;
  }

  private runningAt(site: string, track: string, ms: number): TestRun | undefined {
    return this.all().findLast(
      (run) =>
        run.site === site && run.track === track && run.begunMs <= ms && (run.endedMs === null || ms <= run.endedMs) && run.record === null,
    );
  }
}
