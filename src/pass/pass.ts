import type { Direction } from "../line/railroad.ts";
import type { Vehicle } from "./vehicle.ts";

/** Two columns, by rail: [left, right] facing rising mileposts. */
export type ByRail<T> = [T, T];

/** What is not as it should be with a pass; each word is explained in `reasons` of whatever it leads to. */
export type PassFlag =
  | "no-begin"
  | "no-end"
  | "timed-out"
  | "missing-axles"
  | "count-mismatch"
  | "out-of-order"
  | "repeat-differs"
  | "slow"
  | "stopped-over-site"
  | "reversed-over-site"
  | "scanner-left"
  | "scanner-right"
  | "power"
  | "no-ambient"
  | "units-doubted"
  | "clock-doubted";

/**
 * One train over one site: axle columns in the order in which they passed, row i = axle i + 1.
 * Values are on a grid of 0.01 and held as float32, so a pass survives JSON and back without a change.
 * A value that was not measured, and every value of a missing axle, is NaN.
 */
export interface Pass {
  /** `<site>/<track>/<pass>@<begun as compact UTC>`: unique for ever. */
  id: string;
  site: string;
  track: string;
  /** The site's own pass number. */
  pass: string;
  /** As the site believes. */
  direction: Direction;
  begunMs: number;
  endedMs: number;
  ambientF: number;
  train: string | null;
  axles: number;
  /** What pass-ended said, null without one. */
  axlesSaid: number | null;
  /** Milliseconds since the pass began. */
  ms: Float64Array;
  /** Distance from the previous axle; NaN for the first. */
  gapInches: Float32Array;
  speedMph: Float32Array;
  bearingRiseF: ByRail<Float32Array>;
  /** null when the site sends no wheel readings. */
  wheelRiseF: ByRail<Float32Array> | null;
  /** Vehicle tags read, by axle row. */
  tags: ReadonlyMap<number, string>;
  flags: PassFlag[];
  /** With `clock-doubted`: by how much the site's clock is ahead of its arrival (negative: behind); times here are without it. */
  clockAheadMs?: number | undefined;
  /** How long after its end it came to be followed, where that was too long ago to act on as if it were now: flow/lateness.ts. */
  lateMs?: number | undefined;
  vehicles: Vehicle[];
  /** Row -> index into vehicles, -1 where no vehicle was found. */
  vehicleOfAxle: Int16Array;
}

/** Event-time order of passes: the end, then the id. Every fold that sorts passes sorts by this. */
export function comparePasses(a: Pass, b: Pass): number {
  return a.endedMs - b.endedMs || (a.id < b.id ? -1 : a.id > b.id ? 1 : 0);
}
