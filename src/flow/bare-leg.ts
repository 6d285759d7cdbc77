import type { Leg } from "../journey/journey.ts";

const NO_NUMBERS = new Float32Array(0);
const NO_TIMES = new Float64Array(0);
const NO_INDEX = new Int16Array(0);
const NO_AXLES = new Int32Array(0);
const NO_TAGS: ReadonlyMap<number, string> = new Map();

/**
 * Lets go of the spacings and speeds of a leg that is settled, and so is the one after it: they tell of a train only while it
 * is the newest leg or compared with the newest. Readings and times stay.
 */
export function slim(leg: Leg): void {
  leg.pass = { ...leg.pass, gapInches: NO_NUMBERS, speedMph: NO_NUMBERS };
}

/**
 * Lets go of a leg's columns. Where and when the train was stays; no axle was seen there any more. For settled legs that
 * lie further back than any look goes, so nothing that is ever said depends on when it happens.
 */
export function bare(leg: Leg): void {
  leg.rosterOfRow = NO_AXLES;
  leg.levels = { ...leg.levels, excessF: [NO_NUMBERS, NO_NUMBERS] };
  leg.pass = {
    ...leg.pass,
    axles: 0,
    ms: NO_TIMES,
    gapInches: NO_NUMBERS,
    speedMph: NO_NUMBERS,
    bearingRiseF: [NO_NUMBERS, NO_NUMBERS],
    wheelRiseF: null,
    tags: NO_TAGS,
    vehicles: [],
    vehicleOfAxle: NO_INDEX,
  };
}
