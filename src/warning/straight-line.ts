import type { BearingTrack } from "../bearing/track.ts";

/** What a plain straight line through the last raw readings says: a second opinion that anyone can check with a ruler. */
export interface StraightLine {
  readings: number;
  slopeFPerMile: number;
  /** Miles from the last leg of the track to the limit; null when the line does not rise, negative when it is past it. */
  crossingMiles: number | null;
}

/** Readings that the line goes through: older ones say more of what was than of what comes (common practice). */
const LAST_READINGS = 4;

/** Least squares of the rise on the miles over the last four measured readings; null with fewer than two. */
export function straightLine(track: BearingTrack, limitF: number): StraightLine | null {
  const last = track.filter((reading) => !Number.isNaN(reading.riseF)).slice(-LAST_READINGS);
  if (last.length < 2) return null;
  const meanMiles = last.reduce((sum, reading) => sum + reading.miles, 0) / last.length;
  const meanF = last.reduce((sum, reading) => sum + reading.riseF, 0) / last.length;
  let squares = 0;
  let products = 0;
  for (const { miles, riseF } of last) {
    squares += (miles - meanMiles) ** 2;
    products += (miles - meanMiles) * (riseF - meanF);
  }
  if (squares === 0) return null;
  const slopeFPerMile = products / squares;
  const nowMiles = track.at(-1)!.miles;
  const nowF = meanF + slopeFPerMile * (nowMiles - meanMiles);
  return { readings: last.length, slopeFPerMile, crossingMiles: slopeFPerMile > 0 ? (limitF - nowF) / slopeFPerMile : null };
}
