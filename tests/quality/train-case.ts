import type { Levels } from "../../src/bearing/levels.ts";
import type { Outlook } from "../../src/bearing/track.ts";
import type { Pass } from "../../src/pass/pass.ts";
import { axlesOfRows, type BearingTruth, type BrakesTruth, type PassTruth, type TrainTruth } from "../../src/simulate/truth.ts";
import type { Level } from "../../src/warning/warning.ts";

/** What the engine said of one bearing after one pass: the final word, late passes counted. */
export interface LookNote {
  /** Pass and row that the engine pointed at: the pass looked at, or the last one that had seen the axle. */
  passId: string;
  row: number;
  rail: 0 | 1;
  /** Axle of the engine's roster and side, for the story of one bearing. */
  journey: string;
  rosterAxle: number;
  side: 0 | 1;
  factor: number;
  outlook: Outlook | null;
  heat: string;
  now: Level | null;
  cause: string;
  /** Over its side, bias out; NaN when not measured here. */
  excessF: number;
  /** The way that the chances spoke of. */
  nextMiles: number;
  nextButOneMiles: number;
  words: string;
}

/** One pass of a train with its truth and what became of it in the engine. */
export interface PassCase {
  truth: PassTruth;
  /** Row -> true axle. */
  axleOfRow: Int32Array;
  /** As assembled, vehicles from spacings alone; null when nothing came of it. */
  pass: Pass | null;
  /** From the corridor that owns the site; null when it was never settled there (too late). */
  levels: Levels | null;
  joinedFrom: string | null;
  doubt: string | null;
  looks: LookNote[];
  /** Corridors in which it was placed. */
  corridors: string[];
}

/** Everything about one train, until it is scored. */
export class TrainCase {
  readonly name: string;
  readonly passes: PassCase[] = [];
  readonly bearings: BearingTruth[] = [];
  readonly brakes: BrakesTruth[] = [];
  truth: TrainTruth | null = null;
  endedMs = Number.POSITIVE_INFINITY;

  constructor(name: string) {
    this.name = name;
  }

  addPass(truth: PassTruth): PassCase {
    const axleOfRow = axlesOfRows(truth);
    const one: PassCase = {
      truth,
      axleOfRow,
      pass: null,
      levels: null,
      joinedFrom: null,
      doubt: null,
      looks: [],
      corridors: [],
    };
    this.passes.push(one);
    return one;
  }

  get isSettled(): boolean {
    return this.passes.every((one) => one.levels !== null);
  }
}

/** Key of a true bearing within its train. */
export function bearingKey(axle: number, side: 0 | 1): number {
  return axle * 2 + side;
}

/** True side under a rail on a pass; a rail and a side change places by the same turn. */
export function trueSide(truth: PassTruth, rail: 0 | 1): 0 | 1 {
  return (rail ^ (truth.flipped ? 1 : 0) ^ (truth.direction === "falling" ? 1 : 0)) as 0 | 1;
}

/** True axle under a row; a row counted twice stands just before or behind the axle that it is a shadow of. -1 when there is none. */
export function trueAxle(one: PassCase, row: number): number {
  const axle = one.axleOfRow[row] ?? -1;
  if (axle >= 0) return axle;
  return Math.max(one.axleOfRow[row + 1] ?? -1, -1) >= 0 ? one.axleOfRow[row + 1]! : (one.axleOfRow[row - 1] ?? -1);
}
