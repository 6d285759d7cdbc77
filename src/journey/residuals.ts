import type { Alignment } from "./alignment.ts";
import { MOST_MEANED } from "./roster.ts";

/** Residuals of neighbouring spacings go together, so they count as half as many. */
const RESIDUAL_TEMPER = 0.5;
const MOST_SISTER_NATS = 16;
/** Cars of one train in a row are not quite as alike as cars at the same place of two trains: so much of their difference is sure. */
const SURE_OF_SISTERS = 0.97;
/** Rounding and smooth running cannot make residuals smaller than this, square inches. */
const LEAST_SQUARE_INCHES = 0.05;

/**
 * Cars of one make differ by their own small tolerances. Where the spacings of this pass fit the journey better than
 * its own cars fit each other, it is not merely a train of the same make. Never against: a rough site proves nothing.
 */
export function sisterNats(sisterSquareInches: number, alignment: Alignment, legs: number): number {
  const square = noiseSquare(alignment, legs);
  const nats =
    0.5 *
    RESIDUAL_TEMPER *
    alignment.compared *
    Math.log(Math.max(LEAST_SQUARE_INCHES, (SURE_OF_SISTERS * sisterSquareInches) / 2) / square);
  return Math.max(0, Math.min(MOST_SISTER_NATS, nats));
}

/** Square noise of one spacing at one site, if it is the same train: a roster's own noise is the smaller the more legs it is the mean of. */
function noiseSquare(alignment: Alignment, legs: number): number {
  return Math.max(LEAST_SQUARE_INCHES, alignment.squareInches / (1 + 1 / Math.min(legs, MOST_MEANED)));
}

/** By how much the spacings of each alignment fit worse than those of the best, whatever the noise of the site (its profile likelihood). */
export function residualNats(fits: readonly { alignment: Alignment; legs: number }[]): number[] {
  let least = Number.MAX_VALUE;
  for (const { alignment, legs } of fits) least = Math.min(least, noiseSquare(alignment, legs));
  return fits.map(({ alignment, legs }) => -0.5 * RESIDUAL_TEMPER * alignment.compared * Math.log(noiseSquare(alignment, legs) / least));
}
