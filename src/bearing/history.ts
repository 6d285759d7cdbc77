import { type Journey, type Leg, railOfSide, rowOfRoster } from "../journey/journey.ts";
import { excessOn, msOn, riseOn, wheelRiseOn } from "../journey/leg-reading.ts";
import { countsLess } from "./level.ts";
import { READINGS_MAX } from "./model-numbers.ts";
import { medianInPlace } from "./robust.ts";
import type { BearingReading, BearingTrack } from "./track.ts";

/** The other bearings of one vehicle: an articulated car has at most a few dozen. */
const VEHICLE_BEARINGS_MAX = 64;
/** An axle brings two, so one may be too many. */
const others = new Float64Array(VEHICLE_BEARINGS_MAX + 1);

/**
 * Legs that a look goes back: the outlook takes no more readings than that, and what lies further back may be forgotten.
 * At 15 miles a site, more than 350 miles.
 */
export const HISTORY_LEGS = READINGS_MAX;

/**
 * A bearing's readings over a journey, rebuilt from its legs, oldest first, up to and including leg `uptoLeg` (default: the last).
 * One reading for every leg: a leg that did not see the axle, or lies over HISTORY_LEGS back, gives one with riseF NaN, so that
 * "not seen" is never lost.
 */
export function trackOf(journey: Journey, rosterAxle: number, side: 0 | 1, uptoLeg: number = journey.legs.length - 1): BearingTrack {
  const track: BearingTrack = [];
  const last = Math.min(uptoLeg, journey.legs.length - 1);
  const from = last + 1 - HISTORY_LEGS;
  for (let i = 0; i <= last; i++) track.push(readingOn(journey.legs[i]!, i < from ? NOBODY : rosterAxle, side));
  return track;
}

/** No axle has this number, and none is off the roster by it either. */
const NOBODY = Number.NEGATIVE_INFINITY;

/** One bearing on one leg. */
export function readingOn(leg: Leg, rosterAxle: number, side: 0 | 1): BearingReading {
  const row = rowOfRoster(leg, rosterAxle);
  const rail = railOfSide(leg, side);
  const mate = (1 - rail) as 0 | 1;
  const { levels, pass } = leg;
  const seen = row >= 0;
  const ms = seen ? msOn(leg, row) : Number.NaN;
  const reading: BearingReading = {
    miles: leg.miles,
    timeMs: pass.begunMs + (Number.isFinite(ms) ? ms : 0),
    riseF: seen ? riseOn(leg, rail, row) : Number.NaN,
    excessF: seen ? excessOn(leg, rail, row) : Number.NaN,
    spreadF: levels.spreadF[rail],
    biasSdF: levels.biasSdF[rail],
    mateExcessF: seen ? excessOn(leg, mate, row) : Number.NaN,
    vehicleExcessF: seen ? vehicleExcess(leg, row) : Number.NaN,
    wheelRiseF: seen ? wheelRiseOn(leg, rail, row) : Number.NaN,
    doubted: countsLess(levels.doubts[rail]),
    sideMedianF: levels.medianF[rail],
  };
  if (levels.lowShare !== undefined) reading.lowShare = levels.lowShare[rail];
  return reading;
}

/** Median excess of the vehicle's bearings on its other axles; NaN without a vehicle or with one axle only. */
function vehicleExcess(leg: Leg, row: number): number {
  const count = leg.packed == null ? gatherOthers(leg, row) : leg.packed.othersOf(row, others, VEHICLE_BEARINGS_MAX);
  return medianInPlace(others, Math.min(count, VEHICLE_BEARINGS_MAX));
}

function gatherOthers({ pass, levels }: Leg, row: number): number {
  const vehicle = pass.vehicles[pass.vehicleOfAxle[row] ?? -1];
  if (vehicle === undefined) return 0;
  let count = 0;
  const [left, right] = levels.excessF;
  const end = Math.min(pass.axles, vehicle.firstRow + vehicle.axles);
  for (let other = vehicle.firstRow; other < end && count < VEHICLE_BEARINGS_MAX; other++) {
    if (other === row) continue;
    const leftF = left[other]!;
    const rightF = right[other]!;
    if (!Number.isNaN(leftF)) others[count++] = leftF;
    if (!Number.isNaN(rightF)) others[count++] = rightF;
  }
  return count;
}
