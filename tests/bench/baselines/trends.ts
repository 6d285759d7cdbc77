import { straightLine, theilSen } from "../../../src/bearing/trend.ts";
import { type Baseline, lastMeasured } from "./baseline.ts";

/** Rules that look at a trend: the raw rise a straight line predicts for the next site. */
export const twoPointLine: Baseline = {
  name: "two-point line",
  source: "the straight line through two readings, as drawn on the published sequence (NTSB RRD23MR005, readings [S]; the line [D])",
  unit: "°F above ambient predicted for the next site",
  usual: [170, 200],
  score: ({ track, nextMiles }) => {
    const seen = lastMeasured(track, 2);
    if (seen === null) return -Infinity;
    const [before, now] = seen.riseF as [number, number];
    const [from, to] = seen.miles as [number, number];
    return to > from ? now + ((now - before) / (to - from)) * nextMiles : -Infinity;
  },
};

/** Readings a fitted trend looks at. */
const LAST = 4;

export const leastSquaresOfFour: Baseline = {
  name: "least squares over the last four",
  source:
    "trend over several readings of one bearing (FRA Safety Advisory 2023-01, rec. 3 [S]/[P] asks for one; the fit is common practice)",
  unit: "°F above ambient predicted for the next site",
  usual: [170, 200],
  score: ({ track, nextMiles }) => {
    const seen = lastMeasured(track, LAST);
    const line = seen === null ? null : straightLine(seen.miles, seen.riseF);
    return line === null ? -Infinity : line.intercept + line.slope * (seen!.miles[LAST - 1]! + nextMiles);
  },
};

export const theilSenOfFour: Baseline = {
  name: "Theil-Sen over the last four",
  source: "as least squares, with the slope of Sen (1968) [S]",
  unit: "°F above ambient predicted for the next site",
  usual: [170, 200],
  score: ({ track, nextMiles }) => {
    const seen = lastMeasured(track, LAST);
    const line = seen === null ? null : theilSen(seen.miles, seen.riseF);
    return line === null ? -Infinity : line.intercept + line.slope * (seen!.miles[LAST - 1]! + nextMiles);
  },
};
