import type { BearingTrack } from "./track.ts";
import { lineThroughOrigin } from "./trend.ts";

/** y = plateau * (1 - exp(-rate * x)): the first-order response of a body warming toward where it settles. */
export interface FirstOrder {
  plateau: number;
  rate: number;
  plateauSd: number;
  rateSd: number;
  residualSd: number;
  residualSumOfSquares: number;
  steps: number;
}

const STEPS_MAX = 500;
const FIRST_DAMPING = 1;
const LARGEST_DAMPING = 1e16;
/** Both parameters stand still to this share of themselves: the sum of squares, flat at its bottom, says no more. */
const CONVERGED = 1e-8;
/** Undamped steps at the end: they follow the gradient, which still points where the sum of squares no longer tells. */
const LAST_STEPS = 4;

/**
 * Least-squares fit by Levenberg's damped Gauss-Newton steps (damping scaled by the diagonal, as Marquardt has it). Only the rate
 * needs a start: the best plateau for a rate is a straight line's slope. Null when it does not converge within 500 steps or the data
 * do not tell the two parameters apart.
 */
export function fitFirstOrder(x: ArrayLike<number>, y: ArrayLike<number>, startRate: number): FirstOrder | null {
  let rate = startRate;
  let plateau = plateauFor(x, y, rate);
  let squares = sumOfSquares(x, y, plateau, rate);
  let damping = FIRST_DAMPING;
  for (let steps = 1; steps <= STEPS_MAX; steps++) {
    const normal = normalEquations(x, y, plateau, rate);
    const { a, b, c, u, v } = normal;
    let moved = false;
    while (damping <= LARGEST_DAMPING) {
      const determinant = a * (1 + damping) * c * (1 + damping) - b * b;
      const dPlateau = (c * (1 + damping) * u - b * v) / determinant;
      const dRate = (a * (1 + damping) * v - b * u) / determinant;
      const next = sumOfSquares(x, y, plateau + dPlateau, rate + dRate);
      if (Number.isFinite(next) && next <= squares) {
        plateau += dPlateau;
        rate += dRate;
        squares = next;
        damping /= 10;
        moved = true;
        const still = Math.abs(dPlateau) <= CONVERGED * Math.abs(plateau) && Math.abs(dRate) <= CONVERGED * Math.abs(rate);
        if (still) return finish(x, y, plateau, rate, steps);
        break;
      }
      damping *= 10;
    }
    // No step in any direction lowers the sum: this is the bottom, to the last bit.
    if (!moved) return finish(x, y, plateau, rate, steps);
  }
  return null;
}

function plateauFor(x: ArrayLike<number>, y: ArrayLike<number>, rate: number): number {
  const response = Array.from({ length: x.length }, (_, i) => -Math.expm1(-rate * x[i]!));
  return lineThroughOrigin(response, y)?.slope ?? Number.NaN;
}

function sumOfSquares(x: ArrayLike<number>, y: ArrayLike<number>, plateau: number, rate: number): number {
  let sum = 0;
  for (let i = 0; i < x.length; i++) sum += (y[i]! + plateau * Math.expm1(-rate * x[i]!)) ** 2;
  return sum;
}

/** J'J = [a b; b c] and J'r = [u v] of the residuals at a point. */
function normalEquations(x: ArrayLike<number>, y: ArrayLike<number>, plateau: number, rate: number) {
  const sums = { a: 0, b: 0, c: 0, u: 0, v: 0 };
  for (let i = 0; i < x.length; i++) {
    const byPlateau = -Math.expm1(-rate * x[i]!);
    const byRate = plateau * x[i]! * Math.exp(-rate * x[i]!);
    const residual = y[i]! - plateau * byPlateau;
    sums.a += byPlateau * byPlateau;
    sums.b += byPlateau * byRate;
    sums.c += byRate * byRate;
    sums.u += byPlateau * residual;
    sums.v += byRate * residual;
  }
  return sums;
}

function finish(x: ArrayLike<number>, y: ArrayLike<number>, nearPlateau: number, nearRate: number, steps: number): FirstOrder | null {
  let plateau = nearPlateau;
  let rate = nearRate;
  for (let step = 0; step <= LAST_STEPS; step++) {
    const { a, b, c, u, v } = normalEquations(x, y, plateau, rate);
    const determinant = a * c - b * b;
    if (!(determinant > 0)) return null;
    if (step < LAST_STEPS) {
      plateau += (c * u - b * v) / determinant;
      rate += (a * v - b * u) / determinant;
      continue;
    }
    const residualSumOfSquares = sumOfSquares(x, y, plateau, rate);
    const variance = residualSumOfSquares / (x.length - 2);
    return {
      plateau,
      rate,
      plateauSd: Math.sqrt((variance * c) / determinant),
      rateSd: Math.sqrt((variance * a) / determinant),
      residualSd: Math.sqrt(variance),
      residualSumOfSquares,
      steps,
    };
  }
  return null;
}

export interface Settling {
  /** Excess at which the rise would settle, °F over the side of the train, and its standard deviation. */
  excessF: number;
  sdF: number;
  /** Miles in which it goes 63 % of the way. */
  miles: number;
}

/** Fewer readings than this on the rise tell no plateau from a straight line. */
const FEWEST_READINGS = 4;
/** A rise begins when a reading is this many spreads over its side. */
const RISE_SPREADS = 1.5;
/** A plateau no better known than this share of itself is not told. */
const SHARE_KNOWN = 0.35;

/**
 * Does a bearing's rise settle, and where? A reading aid beside the outlook (first-order response since the last ordinary reading),
 * never a reason to stay silent. Null when the readings do not say.
 */
export function settling(track: BearingTrack): Settling | null {
  const seen = track.filter((reading) => Number.isFinite(reading.excessF) && !reading.doubted);
  let from = seen.length;
  while (from > 0 && seen[from - 1]!.excessF > RISE_SPREADS * seen[from - 1]!.spreadF) from--;
  const origin = seen[from - 1];
  const rise = seen.slice(from);
  if (origin === undefined || rise.length < FEWEST_READINGS) return null;
  const x = rise.map((reading) => reading.miles - origin.miles);
  const y = rise.map((reading) => reading.excessF - origin.excessF);
  const fit = fitFirstOrder(x, y, 2 / x[x.length - 1]!);
  if (fit === null || !(fit.plateau > 0) || !(fit.rate > 0)) return null;
  if (!(fit.plateauSd < SHARE_KNOWN * fit.plateau)) return null;
  return { excessF: fit.plateau + origin.excessF, sdF: fit.plateauSd, miles: 1 / fit.rate };
}
