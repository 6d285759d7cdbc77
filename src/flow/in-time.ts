import type { Pass } from "../pass/pass.ts";

/** How far ahead of every other site a clock may be before its passes are placed by arrival. Assumption: a lonely line's quiet hours. */
export const CLOCK_AHEAD_MS = 6 * 3_600_000;

/** Nothing can come before it happened; what a good clock, a batching sender and the log's own clock differ by. Assumption. */
export const AHEAD_OF_ARRIVAL_MS = 5 * 60_000;

/** So far behind its arrival a pass that came live has a clock that is wrong, whatever the network did. Assumption. */
export const BEHIND_ARRIVAL_MS = 10 * 60_000;

/** A pass that took at least this share of its own length to arrive came live; one kept and sent later comes in one go. Assumption. */
const LIVE_SHARE = 0.5;
/** A shorter one cannot be told. Assumption. */
const TELLING_MS = 20_000;

/** When the first and the last record of a pass came. */
export interface Arrival {
  firstMs: number;
  lastMs: number;
}

/**
 * A pass from a clock that cannot be right is placed by its arrival and says so; readings and distances in time inside the
 * pass stay as they are. `arrival` null: nobody knows when it came, and only other sites (`confirmedMs`) can contradict it.
 */
export function inTime(pass: Pass, arrival: Arrival | null, confirmedMs: number): Pass {
  const aheadMs = arrival === null ? aheadOfOthersMs(pass, confirmedMs) : aheadOfArrivalMs(pass, arrival);
  if (aheadMs === 0) return pass;
  return {
    ...pass,
    begunMs: pass.begunMs - aheadMs,
    endedMs: pass.endedMs - aheadMs,
    flags: [...pass.flags, "clock-doubted"],
    clockAheadMs: aheadMs,
  };
}

function aheadOfOthersMs(pass: Pass, confirmedMs: number): number {
  const aheadMs = pass.endedMs - confirmedMs;
  return aheadMs > CLOCK_AHEAD_MS && Number.isFinite(aheadMs) ? aheadMs : 0;
}

function aheadOfArrivalMs(pass: Pass, { firstMs, lastMs }: Arrival): number {
  const aheadMs = pass.endedMs - lastMs;
  if (aheadMs > AHEAD_OF_ARRIVAL_MS) return aheadMs;
  if (aheadMs >= -BEHIND_ARRIVAL_MS) return 0;
  const tookMs = pass.endedMs - pass.begunMs;
  const cameLive = tookMs >= TELLING_MS && lastMs - firstMs >= LIVE_SHARE * tookMs;
  return cameLive ? aheadMs : 0;
}
