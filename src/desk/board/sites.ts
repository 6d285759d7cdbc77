import type { Calibration } from "../../bearing/calibration.ts";
import type { Equipment, Fault, FunctionalTest, Heartbeat } from "../../feed/record.ts";
import type { Railroad } from "../../line/railroad.ts";
import type { Pass } from "../../pass/pass.ts";
import type { SiteCondition } from "../../site/condition.ts";
import type { RuleBook } from "../../warning/rule-book.ts";
import { Tests } from "./tests.ts";

/** Conditions kept, open and closed; calibrations kept of one scanner. */
export const MOST_CONDITIONS = 5_000;
export const MOST_CALIBRATIONS = 72;

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
  readonly tests: Tests;
  private readonly railroad: Railroad;
  private readonly faults = new Map<string, Fault>();

  constructor(railroad: Railroad, book: RuleBook) {
    this.tests = new Tests(railroad, book);
    this.railroad = railroad;
    this.lineChanged();
  }

  /** The line has other sites than before: those that are new have not been heard. */
  lineChanged(): void {
    for (const site of this.railroad.sites.keys()) {
      if (this.states.has(site)) continue;
      const unheard = { lastHeardMs: null, lastPassMs: null, heartbeatMs: null, ambient: null, supplyVolts: null, references: {} };
      this.states.set(site, { site, ...unheard });
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

  /** A pass; whether it answers in a functional test. */
  passed(pass: Pass): boolean {
    const state = this.states.get(pass.site);
    if (state === undefined) return false;
    const timeMs = pass.endedMs;
    state.lastPassMs = Math.max(state.lastPassMs ?? timeMs, timeMs);
    this.heard(state, timeMs);
    return this.tests.pass(pass);
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
        this.tests.heartbeat(report);
        for (const [device, { reference }] of Object.entries(report.scanners ?? {})) state.references[device] = reference ?? null;
        return false;
      case "fault":
        this.faults.set(`${report.site} ${report.device} ${report.fault}`, report);
        if (this.faults.size > MOST_CONDITIONS) this.faults.delete(this.faults.keys().next().value as string);
        return true;
      case "equipment":
        return this.tests.equipment(report);
      case "functional-test":
        return this.tests.report(report);
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

  siteStates(): SiteState[] {
    return [...this.states.values()];
  }

  /** Conditions in the order of their last change; open ones only unless all are asked for. */
  conditionList(all = false): SiteCondition[] {
    return [...this.conditions.values()].filter((one) => all || one.state === "raised");
  }

  conditionById(id: string): SiteCondition | undefined {
    return this.conditions.get(id);
  }

  openFaults(site: string): Fault[] {
    return [...this.faults.values()].filter((one) => one.site === site && !one.cleared);
  }

  calibrationsOf(site: string): Calibration[][] {
    return [...this.calibrations.entries()].filter(([key]) => key.startsWith(`${site}/`)).map(([, kept]) => kept);
  }

  private heard(state: SiteState, timeMs: number): void {
    state.lastHeardMs = Math.max(state.lastHeardMs ?? timeMs, timeMs);
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
