import { medianInPlace } from "./robust.ts";

/** Readings and places of one line; equal length. */
export type Column = ArrayLike<number>;

/** A straight line by least squares, with what its residuals say about it. */
export interface StraightLine {
  slope: number;
  intercept: number;
  slopeSd: number;
  interceptSd: number;
  /** Of intercept and slope. */
  covariance: number;
  residualSd: number;
  r2: number;
  regressionSumOfSquares: number;
  residualSumOfSquares: number;
  /** F statistic of the regression, 1 and n-2 degrees of freedom. */
  f: number;
}

/** Least squares through n points, null with fewer than two different x. With two points the standard deviations are NaN. */
export function straightLine(x: Column, y: Column): StraightLine | null {
  const n = x.length;
  const meanX = mean(x);
  const meanY = mean(y);
  let sxx = 0;
  let sxy = 0;
  let syy = 0;
  for (let i = 0; i < n; i++) {
    const dx = x[i]! - meanX;
    const dy = y[i]! - meanY;
    sxx += dx * dx;
    sxy += dx * dy;
    syy += dy * dy;
  }
  if (!(sxx > 0)) return null;
  const slope = sxy / sxx;
  const intercept = meanY - slope * meanX;
  let residualSumOfSquares = 0;
  for (let i = 0; i < n; i++) residualSumOfSquares += (y[i]! - meanY - slope * (x[i]! - meanX)) ** 2;
  const variance = n > 2 ? residualSumOfSquares / (n - 2) : Number.NaN;
  const regressionSumOfSquares = slope * sxy;
  return {
    slope,
    intercept,
    slopeSd: Math.sqrt(variance / sxx),
    interceptSd: Math.sqrt(variance * (1 / n + (meanX * meanX) / sxx)),
    covariance: (-variance * meanX) / sxx,
    residualSd: Math.sqrt(variance),
    r2: 1 - residualSumOfSquares / syy,
    regressionSumOfSquares,
    residualSumOfSquares,
    f: regressionSumOfSquares / variance,
  };
}

export interface OriginLine {
  slope: number;
  slopeSd: number;
  residualSd: number;
  /** Against zero, not against the mean: the convention of NIST's no-intercept sets. */
  r2: number;
  residualSumOfSquares: number;
}

/** Least squares through the origin, null when every x is zero. */
export function lineThroughOrigin(x: Column, y: Column): OriginLine | null {
  let sxx = 0;
  let sxy = 0;
  let syy = 0;
  for (let i = 0; i < x.length; i++) {
    sxx += x[i]! * x[i]!;
    sxy += x[i]! * y[i]!;
    syy += y[i]! * y[i]!;
  }
  if (!(sxx > 0)) return null;
  const slope = sxy / sxx;
  let residualSumOfSquares = 0;
  for (let i = 0; i < x.length; i++) residualSumOfSquares += (y[i]! - slope * x[i]!) ** 2;
  const variance = residualSumOfSquares / (x.length - 1);
  return {
    slope,
    slopeSd: Math.sqrt(variance / sxx),
    residualSd: Math.sqrt(variance),
    r2: 1 - residualSumOfSquares / syy,
    residualSumOfSquares,
  };
}

export interface TheilSen {
  /** Median of all pairwise slopes. */
  slope: number;
  /** Median of the residuals y - slope * x (the other convention, median y - slope * median x, differs in general). */
  intercept: number;
  low: number;
  high: number;
  pairs: number;
}

/** Points looked at: the pairs are sorted, so their number is bounded. */
const POINTS_MAX = 64;

/**
 * Theil-Sen line with Sen's interval (Sen 1968, ranks by the normal approximation of Kendall's S). `z`: standard normal quantile of
 * the interval, 1.282 for 80 %. Null with fewer than two different x. Only the last 64 points are used.
 */
export function theilSen(x: Column, y: Column, z = 1.2815515655446004): TheilSen | null {
  const from = Math.max(0, x.length - POINTS_MAX);
  const n = x.length - from;
  const slopes: number[] = [];
  for (let i = from; i < x.length; i++) {
    for (let j = i + 1; j < x.length; j++) if (x[j] !== x[i]) slopes.push((y[j]! - y[i]!) / (x[j]! - x[i]!));
  }
  const pairs = slopes.length;
  if (pairs === 0) return null;
  const sorted = Float64Array.from(slopes).sort();
  const slope = pairs % 2 === 1 ? sorted[pairs >> 1]! : (sorted[(pairs >> 1) - 1]! + sorted[pairs >> 1]!) / 2;
  const residuals = new Float64Array(n);
  for (let i = 0; i < n; i++) residuals[i] = y[from + i]! - slope * x[from + i]!;
  const reach = z * Math.sqrt((n * (n - 1) * (2 * n + 5)) / 18);
  const rank = Math.min(pairs, Math.max(1, Math.floor((pairs - reach) / 2)));
  return { slope, intercept: medianInPlace(residuals, n), low: sorted[rank - 1]!, high: sorted[pairs - rank]!, pairs };
}

/** Where a line reaches a value, null when it never does or did so before `fromX`. */
export function crossingOfLine(line: { slope: number; intercept: number }, value: number, fromX: number): number | null {
  const at = (value - line.intercept) / line.slope;
  return Number.isFinite(at) && at >= fromX ? at : null;
}

function mean(values: Column): number {
  let sum = 0;
  for (let i = 0; i < values.length; i++) sum += values[i]!;
  return sum / values.length;
}
