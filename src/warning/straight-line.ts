import type { BearingTrack } from "../bearing/track.ts";
import { straightLine } from "../bearing/trend.ts";

/** What a plain straight line through the last raw readings says: a second opinion that anyone can check with a ruler. */
export interface LineAhead {
  readings: number;
  slopeFPerMile: number;
  /** Miles from the last leg of the track to the limit; null when the line does not rise, 0 or less when it is past it. */
  crossingMiles: number | null;
}

/** Readings that the line goes through: older ones say more of what was than of what comes (common practice). */
const LAST_READINGS = 4;

/** Least squares of the rise on the miles over the last four measured readings; null with fewer than two. */
export function lineAhead(track: BearingTrack, limitF: number): LineAhead | null {
  const last = track.filter((reading) => !Number.isNaN(reading.riseF)).slice(-LAST_READINGS);
  const line = straightLine(
    last.map((reading) => reading.miles),
    last.map((reading) => reading.riseF),
  );
  if (line === null) return null;
  const crossingMiles = line.slope > 0 ? (limitF - line.intercept) / line.slope - track.at(-1)!.miles : null;
  return { readings: last.length, slopeFPerMile: line.slope, crossingMiles };
}
