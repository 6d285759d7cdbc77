import { type Journey, type Leg, railOfSide, rowOfRoster } from "../journey/journey.ts";
import { excessOn } from "../journey/leg-reading.ts";

/**
 * What makes a bearing worth following. The screen only spares work: a bearing's whole history is rebuilt from the legs once it
 * passes, so nothing is lost by passing late. Assumptions, chosen so that an ordinary train passes under one bearing in 200.
 */
export interface ScreenNumbers {
  /** Excess over this many spreads of its side, and at least so many °F. */
  spreads: number;
  excessF: number;
  /** A jump from the leg before by this many spreads, the excess itself being over `jumpFromSpreads`. */
  jumpSpreads: number;
  jumpFromSpreads: number;
  /** Over the other end of its axle by this many spreads. */
  mateSpreads: number;
  /** Raw rise from which a bearing is looked at whatever the train does, °F above ambient. */
  riseF: number;
}

export const SCREEN_NUMBERS: ScreenNumbers = {
  spreads: 3.4,
  excessF: 14,
  jumpSpreads: 3.6,
  jumpFromSpreads: 2,
  mateSpreads: 4.4,
  riseF: 90,
};

/** Bearings one pass can hand on: both ends of 2,000 axles (feed contract). */
export const SCREENED_MAX = 4000;

/**
 * Which bearings of leg `legIndex` deserve an outlook, written to `out` as row * 2 + rail (0 left, 1 right), by row; returns how many.
 * What is already followed (open warnings, watched bearings) the caller adds by itself. `out` holds SCREENED_MAX values.
 */
export function screen(journey: Journey, legIndex: number, out: Int32Array, numbers: ScreenNumbers = SCREEN_NUMBERS): number {
  const leg = journey.legs[legIndex]!;
  const before = legIndex > 0 ? journey.legs[legIndex - 1]! : null;
  const [excessLeft, excessRight] = leg.levels.excessF;
  const [riseLeft, riseRight] = leg.pass.bearingRiseF;
  const [spreadLeft, spreadRight] = leg.levels.spreadF;
  const fromLeft = numbers.jumpFromSpreads * spreadLeft;
  const fromRight = numbers.jumpFromSpreads * spreadRight;
  const rows = leg.pass.axles;
  let count = 0;
  for (let row = 0; row < rows; row++) {
    // Nearly every bearing ends at these comparisons.
    if (excessLeft[row]! > fromLeft || riseLeft[row]! >= numbers.riseF) {
      if (stands(leg, before, row, 0, numbers)) out[count++] = row * 2;
    }
    if (excessRight[row]! > fromRight || riseRight[row]! >= numbers.riseF) {
      if (stands(leg, before, row, 1, numbers)) out[count++] = row * 2 + 1;
    }
  }
  return count;
}

/** The closer look at a bearing that is over its side at all. */
function stands(leg: Leg, before: Leg | null, row: number, rail: 0 | 1, numbers: ScreenNumbers): boolean {
  if (leg.pass.bearingRiseF[rail][row]! >= numbers.riseF) return true;
  const spread = leg.levels.spreadF[rail];
  const excess = leg.levels.excessF[rail][row]!;
  if (excess > numbers.spreads * spread && excess > numbers.excessF) return true;
  const mate = leg.levels.excessF[(1 - rail) as 0 | 1][row]!;
  // The mate may itself have been read too low: it counts for no less than two spreads under its side.
  if (excess - Math.max(mate, -2 * spread) > numbers.mateSpreads * spread) return true;
  return before !== null && jump(leg, before, row, rail) > numbers.jumpSpreads * spread;
}

/** Excess gained since the leg before, °F; NaN when the axle was not seen there. */
function jump(leg: Leg, before: Leg, row: number, rail: 0 | 1): number {
  const axle = leg.rosterOfRow[row]!;
  if (axle < 0) return Number.NaN;
  const rowBefore = rowOfRoster(before, axle);
  if (rowBefore < 0) return Number.NaN;
  // Rail of a side and side of a rail are the same turn.
  const side = railOfSide(leg, rail);
  const railBefore = railOfSide(before, side);
  const earlier = excessOn(before, railBefore, rowBefore);
  // A low reading before is no jump now: it counts for no less than one spread under its side.
  return leg.levels.excessF[rail][row]! - Math.max(earlier, -before.levels.spreadF[railBefore]);
}
