import type { DefectClass } from "../../src/simulate/truth.ts";

/** Everything that is compared: the engine, the engine given true names, and the published rules, which are given them too. */
export const ENGINE = "engine";
export const TRUE_NAMES = "engine, true names";

/** One pass of a developing bearing before its deadline. */
export interface Chance {
  miles: number;
  /** What each rule made of it, in the order of the run's rules; -Infinity: nothing. */
  scores: number[];
}

/** A curve to look at. */
export interface CurvePoint {
  miles: number;
  site: string;
  /** As measured; null when not. */
  riseF: number | null;
  trueF: number | null;
  /** The engine's factor and chance of reaching the limit before the next site; null when it did not look. */
  factor: number | null;
  chanceNext: number | null;
  heat: string;
  mark: string;
}

/** A developing bearing that truly reached the limit on its train's way. */
export interface DevelopingCase {
  /** Number within its run, from 1, of all developing bearings: what `--explain` takes. */
  number: number;
  train: string;
  axle: number;
  side: 0 | 1;
  class: DefectClass;
  form: string;
  onsetMile: number;
  crossingMile: number;
  failureMile: number | null;
  /** First reading at or over the limit; null when no site read it so. */
  limitMile: number | null;
  /** Every pass before the first reading at or over the limit and before the failure. */
  chances: Chance[];
  /** Readings taken of it among those passes. */
  readings: number;
  /** With its true curve known the rules' own decision would have warned of it in time: see KNOWABLE_MILES. */
  knowable: boolean;
  curve: CurvePoint[];
}

export const NUISANCE_KINDS = ["warm", "roll-over", "plateau", "brakes", "sun", "scanner", "beside", "healthy"] as const;
export type NuisanceKind = (typeof NUISANCE_KINDS)[number];

/** A bearing without a developing defect, at its worst moment by one rule. */
export interface Nuisance {
  train: string;
  axle: number;
  side: 0 | 1;
  score: number;
  /**
   * It is warned of at thresholds over this and up to `score`. At lower ones the engine had already told of the same bearing of
   * its own roster, under its right name; at a limit told of before, at all. -Infinity for rules that are given the names.
   */
  toldFrom: number;
  miles: number;
  kind: NuisanceKind;
  /** Stands next to a bearing that is failing at that moment. */
  besideLive: boolean;
  /** The engine's score had it known the true names: far under `score`, the joining did it. */
  trueNamesScore: number;
  /** Only for the engine. */
  curve: CurvePoint[];
}

/** One tenth (or less) of stated chance. */
export interface ChanceBin {
  count: number;
  stated: number;
  observed: number;
}

export interface JoinCounts {
  passes: number;
  right: number;
  /** To an earlier pass of the same train than the last one heard. */
  skipped: number;
  wrong: number;
  undoneSaid: number;
  undoneSilent: number;
  /** Passes that came too late to be settled. */
  late: number;
}

export interface VehicleCounts {
  cars: number;
  right: number;
  confidence: ChanceBin[];
}

/** Bearings whose readings tripped a plain limit (170 °F, or 95 °F over the other end of the axle) at some site. */
export interface TripCounts {
  withDefect: number;
  withoutDefect: number;
}

/** All that is kept of one run. Plain data, so that it can cross from a worker. */
export interface RunOutcome {
  world: string;
  seed: number;
  hours: number;
  rules: string[];
  trains: number;
  passes: number;
  axles: number;
  developing: number;
  warningRecords: number;
  rejected: number;
  cases: DevelopingCase[];
  /** By rule: the highest scores of bearings without a developing defect, descending. */
  nuisances: Nuisance[][];
  /** By rule: number of nuisances kept is bounded; below this score there may be more. */
  keptDownTo: number[];
  trips: TripCounts;
  /** Scores of developing bearings that never reached the limit on the way: neither hits nor nuisances. */
  idle: number;
  chance: ChanceBin[];
  crossing: { count: number; held: number; early: number; late: number };
  limits: { readings: number; reported: number; missed: string[] };
  joins: { withId: JoinCounts; withoutId: JoinCounts };
  wrongJoins: string[];
  undoneJoins: string[];
  identity: { readings: number; wrongReadings: number; bearings: number; wholeBearings: number; unnamedRows: number; namedRows: number };
  vehicles: { plain: VehicleCounts };
  biasErrorF: { sound: number[]; sick: number[]; unlearned: number };
  milliseconds: number;
}
