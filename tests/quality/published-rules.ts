import type { TruePass } from "./true-readings.ts";

/** A rule that looks at one bearing at one pass; more is hotter. -Infinity: it says nothing. */
export interface PublishedRule {
  name: string;
  source: string;
  score(passes: readonly TruePass[], at: number, key: number, trend: Trend): number;
}

/** The last readings of one bearing up to a pass, newest last. */
export interface Trend {
  count: number;
  miles: Float64Array;
  riseF: Float64Array;
}

export const TREND_READINGS = 4;

export function emptyTrend(): Trend {
  return { count: 0, miles: new Float64Array(TREND_READINGS), riseF: new Float64Array(TREND_READINGS) };
}

/** Adds a reading, letting go of the oldest. */
export function pushReading(trend: Trend, miles: number, riseF: number): void {
  if (trend.count === TREND_READINGS) {
    trend.miles.copyWithin(0, 1);
    trend.riseF.copyWithin(0, 1);
    trend.count--;
  }
  trend.miles[trend.count] = miles;
  trend.riseF[trend.count] = riseF;
  trend.count++;
}

const NOTHING = Number.NEGATIVE_INFINITY;

function readingOf(passes: readonly TruePass[], at: number, key: number): number {
  return passes[at]!.riseF[key]!;
}

export const PUBLISHED_RULES: readonly PublishedRule[] = [
  {
    name: "fixed limit",
    source: "one reading over a limit; 170 °F above ambient is the usual one (scholarworks.utrgv.edu/me_fac/185 [P])",
    score: (passes, at, key) => orNothing(readingOf(passes, at, key)),
  },
  {
    name: "same-axle difference",
    source: "one end of an axle over the other; 95 °F (me_fac/185 [P]), 115 °F (one railroad's table, Feb 2023 [S])",
    score: (passes, at, key) => orNothing(readingOf(passes, at, key) - readingOf(passes, at, key ^ 1)),
  },
  {
    name: "K-value",
    source: "(reading - mean of the side) / sd of the side ([M]); outlier against the rest of the train (ASME JRC2009 abstract [P])",
    score: (passes, at, key) => {
      const pass = passes[at]!;
      const side = (key & 1) as 0 | 1;
      return orNothing((pass.riseF[key]! - pass.meanF[side]) / pass.sdF[side]);
    },
  },
  {
    name: "two-point line",
    source: "straight line through the last two readings, at the next site; multiple measurements (FRA Safety Advisory 2023-01 [P])",
    score: (passes, at, key, trend) => {
      if (Number.isNaN(readingOf(passes, at, key)) || trend.count < 2) return NOTHING;
      const last = trend.count - 1;
      const slope = (trend.riseF[last]! - trend.riseF[last - 1]!) / (trend.miles[last]! - trend.miles[last - 1]!);
      return trend.riseF[last]! + slope * passes[at]!.nextMiles;
    },
  },
  {
    name: "least squares, last 4",
    source: "least squares through the last four readings, at the next site",
    score: (passes, at, key, trend) => {
      if (Number.isNaN(readingOf(passes, at, key)) || trend.count < 3) return NOTHING;
      return leastSquaresAt(trend, passes[at]!.miles + passes[at]!.nextMiles);
    },
  },
  {
    name: "Theil-Sen, last 4",
    source: "median of pairwise slopes of the last four readings (Sen 1968), at the next site",
    score: (passes, at, key, trend) => {
      if (Number.isNaN(readingOf(passes, at, key)) || trend.count < 3) return NOTHING;
      return theilSenAt(trend, passes[at]!.miles + passes[at]!.nextMiles);
    },
  },
];

function orNothing(score: number): number {
  return Number.isNaN(score) ? NOTHING : score;
}

function leastSquaresAt({ count, miles, riseF }: Trend, at: number): number {
  let meanX = 0;
  let meanY = 0;
  for (let i = 0; i < count; i++) {
    meanX += miles[i]! / count;
    meanY += riseF[i]! / count;
  }
  let sxx = 0;
  let sxy = 0;
  for (let i = 0; i < count; i++) {
    sxx += (miles[i]! - meanX) ** 2;
    sxy += (miles[i]! - meanX) * (riseF[i]! - meanY);
  }
  return meanY + (sxy / sxx) * (at - meanX);
}

const slopes = new Float64Array((TREND_READINGS * (TREND_READINGS - 1)) / 2);
const residuals = new Float64Array(TREND_READINGS);

function theilSenAt({ count, miles, riseF }: Trend, at: number): number {
  let pairs = 0;
  for (let i = 0; i < count; i++) {
    for (let j = i + 1; j < count; j++) slopes[pairs++] = (riseF[j]! - riseF[i]!) / (miles[j]! - miles[i]!);
  }
  const slope = medianInPlace(slopes, pairs);
  for (let i = 0; i < count; i++) residuals[i] = riseF[i]! - slope * miles[i]!;
  return medianInPlace(residuals, count) + slope * at;
}

/** Insertion sort: never more than six values. */
function medianInPlace(values: Float64Array, count: number): number {
  for (let i = 1; i < count; i++) {
    const value = values[i]!;
    let at = i - 1;
    while (at >= 0 && values[at]! > value) {
      values[at + 1] = values[at]!;
      at--;
    }
    values[at + 1] = value;
  }
  const middle = count >> 1;
  return count % 2 === 1 ? values[middle]! : (values[middle - 1]! + values[middle]!) / 2;
}
