import type { Calibration } from "../../bearing/calibration.ts";
import type { Equipment, Fault, FunctionalTest, Heartbeat } from "../../feed/record.ts";
import type { Railroad } from "../../line/railroad.ts";
import type { SiteCondition } from "../../site/condition.ts";

/** Conditions kept, open and closed; calibrations kept of one scanner; tests kept; reports kept of a running test. */
export const MOST_CONDITIONS = 5_000;
export const MOST_CALIBRATIONS = 72;
export const MOST_TESTS = 1_000;
export const MOST_TEST_REPORTS = 200;

/** What one device did during a functional test. */
export interface DeviceSeen {
  device: string;
  timeMs: number;
  value: number | null;
  /** Whether the site told the crew: part of the proof. */
  announced: boolean | null;
}

/** A functional test as far as it has come, or as it ended. */
export interface TestRun {
  id: string;
  site: string;
  track: string;
  tester: string;
  begunMs: number;
  endedMs: number | null;
  expects: string[];
  seen: DeviceSeen[];
  /** Verdict of the engine's own record of the test, where there is one. */
  passed: boolean | null;
  missing: string[];
  record: Readonly<Record<string, unknown>> | null;
}

export interface SiteState {
  site: string;
  lastHeardMs: number | null;
  lastPassMs: number | null;
  heartbeatMs: number | null;
  ambient: number | null;
  supplyVolts: number | null;
  references: Record<string, number | null>;
}

/** All that is known of the sites: a pure fold over conditions, reports, calibrations, passes and tests. */
export class Sites {
  private readonly states = new Map<string, SiteState>();
  private readonly conditions = new Map<string, SiteCondition>();
  private readonly calibrations = new Map<string, Calibration[]>();
  private readonly tests = new Map<string, TestRun>();
  private readonly faults = new Map<string, Fault>();

  constructor(railroad: Railroad) {
    for (const site of railroad.sites.keys()) {
      this.states.set(site, {
        site,
        lastHeardMs: null,
        lastPassMs: null,
        heartbeatMs: null,
        ambient: null,
        supplyVolts: null,
        references: {},
      });
    }
  }

  /** A version of a condition; false when a later one is known. */
  condition(condition: SiteCondition): boolean {
    const known = this.conditions.get(condition.id);
    if (known !== undefined && known.version >= condition.version) return false;
    this.conditions.delete(condition.id);
    this.conditions.set(condition.id, condition);
    if (this.conditions.size > MOST_CONDITIONS) this.forgetCondition();
    return true;
  }

  passed(site: string, timeMs: number): void {
    const state = this.states.get(site);
    if (state === undefined) return;
    state.lastPassMs = Math.max(state.lastPassMs ?? timeMs, timeMs);
    this.heard(state, timeMs);
  }

  report(report: Heartbeat | Fault | Equipment | FunctionalTest): boolean {
    const state = this.states.get(report.site);
    if (state === undefined) return false;
    const timeMs = Date.parse(report.time);
    this.heard(state, timeMs);
    switch (report.type) {
      case "heartbeat":
        if (state.heartbeatMs !== null && state.heartbeatMs >= timeMs) return false;
        state.heartbeatMs = timeMs;
        state.ambient = report.ambient ?? null;
        state.supplyVolts = report.supplyVolts ?? null;
        for (const [device, { reference }] of Object.entries(report.scanners ?? {})) state.references[device] = reference ?? null;
        return false;
      case "fault":
        this.faults.set(`${report.site} ${report.device} ${report.fault}`, report);
        if (this.faults.size > MOST_CONDITIONS) this.faults.delete(this.faults.keys().next().value as string);
        return true;
      case "equipment":
        return this.equipment(report, timeMs);
      case "functional-test":
        return this.test(report, timeMs);
    }
  }

  calibration(calibration: Calibration): boolean {
    const key = `${calibration.site}/${calibration.track}/${calibration.rail}`;
    const kept = this.calibrations.get(key) ?? [];
    if (kept.some((one) => one.id === calibration.id)) return false;
    kept.push(calibration);
    kept.sort((a, b) => a.effectiveFromMs - b.effectiveFromMs);
    if (kept.length > MOST_CALIBRATIONS) kept.shift();
    this.calibrations.set(key, kept);
    return true;
  }

  /** The engine's own record of a finished test. Its shape is the engine's; what is not known of it is shown as it is. */
  testRecord(record: Readonly<Record<string, unknown>>): boolean {
    const { site, track } = record as { site?: string; track?: string };
    if (site === undefined) return false;
    const begunMs = Date.parse(String(record["begun"] ?? record["begunAt"] ?? record["time"] ?? ""));
    const running = [...this.tests.values()].findLast(
      (one) => one.site === site && (track === undefined || one.track === track) && !(Math.abs(one.begunMs - begunMs) > 24 * 3_600_000),
    );
    const verdict = record["passed"] ?? record["proved"] ?? record["verdict"] ?? record["result"];
    if (running === undefined) return false;
    running.record = record;
    running.passed = typeof verdict === "boolean" ? verdict : verdict === "passed" || verdict === "proved";
    return true;
  }

  siteStates(): SiteState[] {
    return [...this.states.values()];
  }

  /** Conditions in the order of their last change; open ones only unless all are asked for. */
  conditionList(all = false): SiteCondition[] {
    return [...this.conditions.values()].filter((one) => all || one.state === "raised");
  }

  openFaults(site: string): Fault[] {
    return [...this.faults.values()].filter((one) => one.site === site && !one.cleared);
  }

  calibrationsOf(site: string): Calibration[][] {
    return [...this.calibrations.entries()].filter(([key]) => key.startsWith(`${site}/`)).map(([, kept]) => kept);
  }

  testList(): TestRun[] {
    return [...this.tests.values()];
  }

  private heard(state: SiteState, timeMs: number): void {
    state.lastHeardMs = Math.max(state.lastHeardMs ?? timeMs, timeMs);
  }

  private test(report: FunctionalTest, timeMs: number): boolean {
    if (report.phase === "begun") {
      const id = `${report.site}/${report.track}@${report.time}`;
      if (this.tests.has(id)) return false;
      this.tests.set(id, {
        id,
        site: report.site,
        track: report.track,
        tester: report.tester,
        begunMs: timeMs,
        endedMs: null,
        expects: [...(report.expects ?? [])],
        seen: [],
        passed: null,
        missing: [...(report.expects ?? [])],
        record: null,
      });
      if (this.tests.size > MOST_TESTS) this.tests.delete(this.tests.keys().next().value as string);
      return true;
    }
    const running = this.runningAt(report.site, report.track, timeMs);
    if (running === undefined) return false;
    running.endedMs = timeMs;
    return true;
  }

  private equipment(report: Equipment, timeMs: number): boolean {
    const running = this.runningAt(report.site, report.track, timeMs);
    if (running === undefined || running.seen.length >= MOST_TEST_REPORTS) return false;
    const device = deviceOf(report);
    running.seen.push({ device, timeMs, value: report.value ?? null, announced: report.announced });
    running.missing = running.missing.filter((one) => !proves(report, one));
    return true;
  }

  private runningAt(site: string, track: string, timeMs: number): TestRun | undefined {
    return [...this.tests.values()].findLast(
      (one) => one.site === site && one.track === track && one.endedMs === null && one.begunMs <= timeMs,
    );
  }

  private forgetCondition(): void {
    for (const [id, one] of this.conditions) {
      if (one.state !== "cleared") continue;
      this.conditions.delete(id);
      return;
    }
    this.conditions.delete(this.conditions.keys().next().value as string);
  }
}

/** The device that made a report, as far as the report tells. */
function deviceOf({ kind, track, side }: Equipment): string {
  if (kind === "hot-bearing" || kind === "hot-wheel") return side == null ? kind : `${track}/${side}`;
  return side == null ? kind : `${kind}-${side}`;
}

/** Whether a report is the message that a device under test had to produce. */
function proves(report: Equipment, device: string): boolean {
  if (device === deviceOf(report) || device === report.kind) return true;
  // Wheel transducers are proved by an integrity report; which of the two it was is not told.
  return report.kind === "integrity" && device.startsWith("transducer");
}
