import type { FeedRecord } from "../../../src/feed/record.ts";
import type { Pass } from "../../../src/pass/pass.ts";

/** Assumptions of the plain rules: what a first script for the job holds against. */
const SILENCE_MS = 30 * 60_000;
const NO_PASS_MS = 8 * 3_600_000;
const PASSES = 20;
const MEAN_LIMIT_F = 15;
const GAP_LIMIT = 0.02;
const CLOCK_LIMIT_MS = 5 * 60_000;
const NULL_LIMIT = 0.5;

export interface PlainAlarm {
  site: string;
  device: string;
  what: "time-out" | "no-pass" | "mean" | "gap" | "clock" | "nulls";
  atMs: number;
}

interface Mean {
  values: number[];
}

/** The baselines: a plain time-out on records and on passes, and plain limits on means over the last passes. */
export class PlainWatch {
  readonly alarms: PlainAlarm[] = [];
  private readonly heardMs = new Map<string, number>();
  private readonly passMs = new Map<string, number>();
  private readonly means = new Map<string, Mean>();
  private readonly open = new Set<string>();
  private nowMs = Number.NEGATIVE_INFINITY;
  private lookedMs = 0;

  constructor(sites: readonly string[]) {
    for (const site of sites) this.heardMs.set(site, Number.NaN);
  }

  heard(record: FeedRecord, arrivedMs: number): void {
    if (!("site" in record) || record.site === undefined) return;
    this.nowMs = arrivedMs;
    this.heardMs.set(record.site, arrivedMs);
    this.turn(record.site, "", "time-out", false);
    if ("time" in record) this.limit(record.site, "", "clock", Date.parse(record.time) - arrivedMs, 0, CLOCK_LIMIT_MS);
    if (this.nowMs - this.lookedMs < 60_000) return;
    this.lookedMs = this.nowMs;
    for (const [site, ms] of this.heardMs) if (this.nowMs - ms > SILENCE_MS) this.turn(site, "", "time-out", true);
    for (const [site, ms] of this.passMs) if (this.nowMs - ms > NO_PASS_MS) this.turn(site, "", "no-pass", true);
  }

  pass(pass: Pass): void {
    this.passMs.set(pass.site, this.nowMs);
    this.turn(pass.site, "", "no-pass", false);
    const usual = this.network();
    for (const rail of [0, 1] as const) {
      const device = `${pass.track}/${rail === 0 ? "left" : "right"}`;
      const { mean, nulls } = meanOf(pass.bearingRiseF[rail]);
      this.limit(pass.site, device, "nulls", nulls, 0, NULL_LIMIT);
      if (!Number.isNaN(mean)) this.limit(pass.site, device, "mean", mean, usual.riseF, MEAN_LIMIT_F);
    }
    const { mean } = meanOf(pass.gapInches);
    if (!Number.isNaN(mean)) this.limit(pass.site, pass.track, "gap", mean, usual.gapInches, GAP_LIMIT * usual.gapInches);
  }

  private limit(site: string, device: string, what: PlainAlarm["what"], value: number, usual: number, limit: number): void {
    const key = `${what} ${site} ${device}`;
    const known = this.means.get(key) ?? { values: [] };
    this.means.set(key, known);
    known.values.push(value);
    if (known.values.length > PASSES) known.values.shift();
    if (known.values.length < PASSES) return;
    const mean = known.values.reduce((sum, one) => sum + one, 0) / PASSES;
    this.turn(site, device, what, Math.abs(mean - usual) > limit);
  }

  /** Means over all sites, of what is kept. */
  private network(): { riseF: number; gapInches: number } {
    const sums = { mean: [0, 0], gap: [0, 0] };
    for (const [key, { values }] of this.means) {
      const of = key.startsWith("mean ") ? sums.mean : key.startsWith("gap ") ? sums.gap : null;
      if (of === null) continue;
      for (const value of values) of[0] = of[0]! + value;
      of[1] = of[1]! + values.length;
    }
    return { riseF: sums.mean[0]! / sums.mean[1]!, gapInches: sums.gap[0]! / sums.gap[1]! };
  }

  private turn(site: string, device: string, what: PlainAlarm["what"], isWrong: boolean): void {
    const key = `${what} ${site} ${device}`;
    if (isWrong === this.open.has(key)) return;
    if (isWrong) {
      this.open.add(key);
      this.alarms.push({ site, device, what, atMs: this.nowMs });
    } else this.open.delete(key);
  }
}

function meanOf(column: Float32Array): { mean: number; nulls: number } {
  let sum = 0;
  let count = 0;
  for (const value of column) {
    if (Number.isNaN(value)) continue;
    sum += value;
    count++;
  }
  return { mean: sum / count, nulls: 1 - count / column.length };
}
