import type { Leg } from "../journey/journey.ts";
import { PackedReadings } from "../journey/packed-readings.ts";
import { PackedPass } from "../pass/packed-pass.ts";
import type { ByRail } from "../pass/pass.ts";

const NO_NUMBERS = new Float32Array(0);
const NO_COLUMNS: ByRail<Float32Array> = [NO_NUMBERS, NO_NUMBERS];
const NO_TIMES = new Float64Array(0);
const NO_INDEX = new Int16Array(0);
const NO_AXLES = new Int32Array(0);
const NO_TAGS: ReadonlyMap<number, string> = new Map();

/**
 * Packs the readings of a leg that is settled, and the vehicles of its pass: kept for as long as its train, but asked for by few
 * looks. What does not lie on the grid stays as it is. Nothing that is ever said depends on it. `before`: the leg before it, whose
 * vehicles are mostly the same.
 */
export function pack(leg: Leg, before: Leg | null): void {
  if (leg.packed != null) return;
  const packed = PackedReadings.of(leg.pass, leg.levels);
  if (packed === null) return;
  leg.packed = packed;
  leg.levels = { ...leg.levels, excessF: NO_COLUMNS };
  leg.pass = new PackedPass(leg.pass, before?.pass ?? null);
}

/**
 * Lets go of the spacings and speeds of a leg that is settled, and so is the one after it: they tell of a train only while it
 * is the newest leg or compared with the newest. Readings and times stay.
 */
export function slim(leg: Leg): void {
  if (leg.pass instanceof PackedPass) leg.pass.slim();
  else leg.pass = { ...leg.pass, gapInches: NO_NUMBERS, speedMph: NO_NUMBERS };
}

/**
 * Lets go of a leg's columns. Where and when the train was stays; no axle was seen there any more. For settled legs that
 * lie further back than any look goes, so nothing that is ever said depends on when it happens.
 */
export function bare(leg: Leg): void {
  leg.rosterOfRow = NO_AXLES;
  leg.packed = null;
  leg.levels = { ...leg.levels, excessF: NO_COLUMNS };
  leg.pass = {
    ...leg.pass,
    axles: 0,
    ms: NO_TIMES,
    gapInches: NO_NUMBERS,
    speedMph: NO_NUMBERS,
    bearingRiseF: NO_COLUMNS,
    wheelRiseF: null,
    tags: NO_TAGS,
    vehicles: [],
    vehicleOfAxle: NO_INDEX,
  };
}
