import type { BearingReading, BearingTrack } from "../../../src/bearing/track.ts";

/** Mean and standard deviation of the raw rises of one side of one pass, °F above ambient. */
export interface SideFigures {
  meanF: number;
  sdF: number;
}

/** What a published rule may look at: a bearing's readings, those of the other end of its axle, and its side, leg by leg. */
export interface BaselineView {
  track: BearingTrack;
  mate: BearingTrack;
  side: readonly SideFigures[];
  /** Miles from now to the next site. */
  nextMiles: number;
}

/**
 * A published rule, given true identities. `score` is what its threshold is swept over: the higher the more alarming; -Infinity
 * when the rule has nothing to look at. `usual`: the thresholds published for it.
 */
export interface Baseline {
  name: string;
  source: string;
  unit: string;
  usual: readonly number[];
  score(view: BaselineView): number;
}

/** The newest reading, null when the last site did not measure the bearing. */
export function newest(track: BearingTrack): BearingReading | null {
  const last = track[track.length - 1];
  return last !== undefined && Number.isFinite(last.riseF) ? last : null;
}

/** The last `count` readings that were measured, raw rises over miles; null when there are fewer or the last site measured none. */
export function lastMeasured(track: BearingTrack, count: number): { miles: number[]; riseF: number[] } | null {
  if (newest(track) === null) return null;
  const seen = track.filter((reading) => Number.isFinite(reading.riseF)).slice(-count);
  if (seen.length < count) return null;
  return { miles: seen.map((reading) => reading.miles), riseF: seen.map((reading) => reading.riseF) };
}
