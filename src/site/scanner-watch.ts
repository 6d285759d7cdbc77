import type { Calibration } from "../bearing/calibration.ts";
import type { Journey, Leg } from "../journey/journey.ts";
import { judgeBlind, judgeCold, judgeNoisy, weighCold } from "./blindness.ts";
import { type Comparison, comparisons } from "./comparison.ts";
import { judgeBias, judgeDrift } from "./drift.ts";
import { forget } from "./forget.ts";
import { newPairLife, newScannerLife, type PairLife, type ScannerLife } from "./scanner-life.ts";
import { judgeSnow } from "./snow.ts";
import type { WatchContext } from "./watch-context.ts";
import { AVERAGED_PASSES } from "./watch-numbers.ts";

export interface ScannerWatchState {
  scanners: Record<string, ScannerLife>;
  pairs: Record<string, PairLife>;
}

export const RAILS = ["left", "right"] as const;

const DAY_MS = 24 * 3_600_000;
/** Learned biases kept of a scanner: a day of hours with trains. */
const MOST_BIASES = 24;

/**
 * The bearing scanners against their neighbours' readings of the same trains: cold, blind, drifting, noisy, under snow or in
 * the sun. Every judgement adds up evidence from pass to pass and has a stated rate of false answers (`watch-numbers.ts`).
 */
export class ScannerWatch {
  private readonly context: WatchContext;
  private readonly scanners = new Map<string, ScannerLife>();
  private readonly pairs = new Map<string, PairLife>();

  constructor(context: WatchContext) {
    this.context = context;
  }

  /** A leg that no late pass can change any more. Answers with the tracks whose calibration jumped. */
  settled(journey: Journey, leg: Leg): Leg[] {
    const { owned, railroad } = this.context;
    if (owned.has(leg.pass.site)) {
      for (const rail of [0, 1] as const) judgeBlind(this.context, leg, rail, this.life(leg, rail));
    }
    const jumped: Leg[] = [];
    for (const comparison of comparisons(railroad, journey, leg, (one, rail) => this.isWell(one, rail))) {
      if (owned.has(comparison.leg.pass.site) && this.compared(comparison)) jumped.push(comparison.leg);
    }
    return jumped;
  }

  private compared(comparison: Comparison): boolean {
    const { leg, rails, bothF } = comparison;
    const pair = this.pair(leg);
    const lives = [this.life(leg, 0), this.life(leg, 1)] as const;
    if (Number.isFinite(bothF)) pair.offF = averaged(pair.offF, bothF);
    for (const rail of [0, 1] as const) lives[rail].offF = averaged(lives[rail].offF, rails[rail].aloneF);
    const scores = [weighCold(comparison, 0, lives[0]), weighCold(comparison, 1, lives[1])] as const;
    const isSnow = judgeSnow(this.context, comparison, pair, lives);
    let isJump = false;
    for (const rail of [0, 1] as const) {
      const isCold = judgeCold(this.context, comparison, rail, lives, scores[rail], isSnow);
      judgeNoisy(this.context, comparison, rail, lives[rail]);
      if (judgeDrift(this.context, comparison, rail, lives[rail], isCold || isSnow)) isJump = true;
    }
    return isJump;
  }

  /** A scanner's newly learned bias. */
  calibration(record: Calibration): void {
    const life = this.lifeOf(`${record.site}/${record.track}/${record.rail}`);
    const atMs = Date.parse(record.time);
    life.biases.push([atMs, record.biasF]);
    if (life.biases.length > MOST_BIASES) life.biases.shift();
    judgeBias(this.context, record, life);
  }

  /** Learned bias and its trend in °F a day; null while nothing was learned. For showing. */
  bias(site: string, track: string, rail: "left" | "right"): { biasF: number; trendFPerDay: number | null; offF: number | null } | null {
    const life = this.scanners.get(`${site}/${track}/${rail}`);
    const last = life?.biases.at(-1);
    if (life === undefined || last === undefined) return null;
    return { biasF: last[1], trendFPerDay: slopePerDay(life.biases), offF: life.offF };
  }

  /** Nothing is told of a scanner that would make it a bad measure for others. */
  private isWell({ pass, levels }: Leg, rail: 0 | 1): boolean {
    const { book } = this.context;
    const device = `${pass.track}/${RAILS[rail]}`;
    const isDoubted = levels.doubts[rail].some((word) => word === "scanner-low" || word === "no-readings" || word === "scanner-flagged");
    if (isDoubted) return false;
    if (book.openCount === 0) return true;
    return (
      !book.isOpen(pass.site, device, "cold-scanner") &&
      !book.isOpen(pass.site, device, "blind-scanner") &&
      !book.isOpen(pass.site, pass.track, "snow")
    );
  }

  private life({ pass }: Leg, rail: 0 | 1): ScannerLife {
    return this.lifeOf(`${pass.site}/${pass.track}/${RAILS[rail]}`);
  }

  private lifeOf(key: string): ScannerLife {
    let life = this.scanners.get(key);
    if (life === undefined) {
      life = newScannerLife();
      this.scanners.set(key, life);
    }
    return life;
  }

  private pair({ pass }: Leg): PairLife {
    const key = `${pass.site}/${pass.track}`;
    let pair = this.pairs.get(key);
    if (pair === undefined) {
      pair = newPairLife();
      this.pairs.set(key, pair);
    }
    return pair;
  }

  /** A site, or a track of it, is not on the line any more. */
  gone(site: string, track: string): void {
    forget(this.scanners, site, track);
    forget(this.pairs, site, track);
  }

  state(): ScannerWatchState {
    return { scanners: Object.fromEntries(this.scanners), pairs: Object.fromEntries(this.pairs) };
  }

  restore(state: ScannerWatchState): void {
    this.scanners.clear();
    this.pairs.clear();
    for (const [key, life] of Object.entries(state.scanners)) this.scanners.set(key, structuredClone(life));
    for (const [key, pair] of Object.entries(state.pairs)) this.pairs.set(key, structuredClone(pair));
  }
}

function averaged(before: number | null, value: number): number {
  return before === null ? value : before + (value - before) / AVERAGED_PASSES;
}

/** Least squares through the learned biases; null from fewer than three, or within an hour. */
function slopePerDay(biases: readonly [number, number][]): number | null {
  if (biases.length < 3) return null;
  const from = biases[0]![0];
  if (biases.at(-1)![0] - from < DAY_MS / 24) return null;
  const meanX = biases.reduce((sum, [ms]) => sum + (ms - from) / DAY_MS, 0) / biases.length;
  const meanY = biases.reduce((sum, [, biasF]) => sum + biasF, 0) / biases.length;
  let cross = 0;
  let square = 0;
  for (const [ms, biasF] of biases) {
    const x = (ms - from) / DAY_MS - meanX;
    cross += x * (biasF - meanY);
    square += x * x;
  }
  return cross / square;
}
