import type { Direction } from "../line/railroad.ts";
import type { VehicleKind } from "../pass/vehicle.ts";

/**
 * What really happened, beside a simulated feed: one JSON record a line of truth.jsonl, told apart by `type`.
 * An axle's number is its own for the whole journey of a train (from 0, head to tail as the train set out; cars picked
 * up later get further numbers). A bearing is (axle, side): 0 left, 1 right in the direction of travel while the train
 * runs as it set out; a flipped train has them swapped. °F are above ambient unless a name says otherwise.
 */
export type Truth = SiteTruth | TrainTruth | PassTruth | BearingTruth | BrakesTruth | RecordTruth;

export interface SiteTruth {
  type: "site";
  site: string;
  /** By `<track>/<rail>`: constant part of the bias, and its drift. */
  biasF: Record<string, number>;
  driftFPerDay: Record<string, number>;
  /** Measured spacing = true spacing x this. */
  gapScale: number;
  faults: { kind: string; device: string; from: string; to: string; words: string }[];
}

export interface TruthVehicle {
  kind: VehicleKind;
  id: string;
  firstAxle: number;
  axles: number;
  trucks: number[];
  /** Mile of the journey at which it joined and left; null: there from the start, to the end. */
  joinedMile: number | null;
  leftMile: number | null;
}

/** Comes when a train's journey has ended, after all its passes. */
export interface TrainTruth {
  type: "train";
  train: string;
  /** What the sites could know; null when the train goes without an id. */
  id: string | null;
  kind: string;
  /** Sites in order, as `<site>/<track>/<direction>`. */
  route: string[];
  miles: number;
  vehicles: TruthVehicle[];
  /** What happened on the way, in words: set-outs, stops, turns, a failure. */
  events: { mile: number; time: string; kind: string; words: string }[];
  ended: "arrived" | "failed" | "time-up";
}

export interface PassTruth {
  type: "pass";
  train: string;
  /** As the processor names it: `<site>/<track>/<pass>@<begun as compact UTC, the site's own clock>`. */
  id: string;
  site: string;
  track: string;
  pass: string;
  /** True times. */
  begun: string;
  ended: string;
  direction: Direction;
  reportedDirection: Direction;
  flipped: boolean;
  /** Miles of the journey when the head passed. */
  miles: number;
  speedMph: number;
  /** Rows in order as runs [first axle, step (1 or -1), rows]; first axle -1: rows that are no axle (counted twice). */
  rows: [number, number, number][];
  /** Axles on the train that the site missed. */
  missed: number[];
  /** Bias of the two rails' scanners at this pass. */
  biasF: [number, number];
  /** What else this pass suffers from: `sun-left`, `cold-right`, `ice-left`, `no-end`, `late`, `wrong-id`, `braking`, ... */
  marks: string[];
}

export type BearingKind = "developing" | "plateau" | "roll-over" | "warm";
/** By miles from onset to 170 °F: slow from 100, medium 40 to 100, fast 15 to 40, burst under 15. */
export type DefectClass = "slow" | "medium" | "fast" | "burst" | "none";

export interface TruePlace {
  mile: number;
  time: string;
  from: string;
  to: string;
  /** Miles after `from`. */
  linkMiles: number;
}

export interface BearingTruth {
  type: "bearing";
  train: string;
  axle: number;
  side: 0 | 1;
  kind: BearingKind;
  class: DefectClass;
  form: string;
  /** May lie before the first site (negative). null: has been so all along. */
  onsetMile: number | null;
  /** First place where its true rise was 170 °F; null: never, or not before the journey's end. */
  crossing: TruePlace | null;
  failure: TruePlace | null;
  /** It left the train here: with its vehicle, or its wheelset was changed. */
  setOutMile: number | null;
  /** True rise when the train passed: pass id, mile, °F. */
  atPasses: { pass: string; miles: number; riseF: number }[];
}

export interface BrakesTruth {
  type: "brakes";
  train: string;
  vehicle: number;
  axles: number[];
  fromMile: number;
  toMile: number;
  wheelRiseF: number;
  /** Added to the bearings beside. */
  bearingRiseF: number;
}

/** A record that was spoilt on purpose. */
export interface RecordTruth {
  type: "record";
  time: string;
  topic: string;
  key: string;
  what: string;
}

/** Row -> true axle of a pass, -1 for a row that is none. */
export function axlesOfRows(pass: PassTruth): Int32Array {
  let rows = 0;
  for (const run of pass.rows) rows += run[2];
  const axles = new Int32Array(rows);
  let row = 0;
  for (const [first, step, count] of pass.rows) {
    for (let i = 0; i < count; i++) axles[row++] = first < 0 ? -1 : first + step * i;
  }
  return axles;
}

/** Rail (0 left, 1 right, facing rising mileposts) under a true side on this pass. */
export function railOfTrueSide(pass: PassTruth, side: 0 | 1): 0 | 1 {
  return (side ^ (pass.flipped ? 1 : 0) ^ (pass.direction === "falling" ? 1 : 0)) as 0 | 1;
}

/** Bounds of the vehicles that a pass shows, by row, head first: [vehicle, first row, rows]. A row counted twice belongs to no vehicle. */
export function vehiclesOfPass(train: TrainTruth, pass: PassTruth): { vehicle: number; firstRow: number; rows: number }[] {
  const owner = new Map<number, number>();
  train.vehicles.forEach((vehicle, index) => {
    for (let i = 0; i < vehicle.axles; i++) owner.set(vehicle.firstAxle + i, index);
  });
  const bounds: { vehicle: number; firstRow: number; rows: number }[] = [];
  axlesOfRows(pass).forEach((axle, row) => {
    const vehicle = owner.get(axle);
    if (vehicle === undefined) return;
    const last = bounds[bounds.length - 1];
    if (last !== undefined && last.vehicle === vehicle) last.rows = row - last.firstRow + 1;
    else bounds.push({ vehicle, firstRow: row, rows: 1 });
  });
  return bounds;
}

/** Runs of rows that a mapping is made of; the inverse of `axlesOfRows`. */
export function runsOf(axles: ArrayLike<number>): [number, number, number][] {
  const runs: [number, number, number][] = [];
  for (let row = 0; row < axles.length; row++) {
    const axle = axles[row] as number;
    const run = runs[runs.length - 1];
    if (run === undefined) {
      runs.push([axle, 1, 1]);
    } else if (axle < 0 || run[0] < 0) {
      if (axle < 0 && run[0] < 0) run[2]++;
      else runs.push([axle, 1, 1]);
    } else if (run[2] === 1 && Math.abs(axle - run[0]) === 1) {
      run[1] = axle - run[0];
      run[2] = 2;
    } else if (axle === run[0] + run[1] * run[2]) {
      run[2]++;
    } else {
      runs.push([axle, 1, 1]);
    }
  }
  return runs;
}
