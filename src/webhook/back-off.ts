/** First pause after a failure, and the longest: a receiver that is back is told within five minutes. Assumptions. */
export const FIRST_PAUSE_MS = 1_000;
export const LONGEST_PAUSE_MS = 5 * 60_000;

/**
 * Pause before the next try after `failures` in a row (from 1), milliseconds: doubled each time up to the longest, and
 * somewhere between half of that and all of it, so that many senders do not come back together.
 * `random`: 0 to 1, injected.
 */
export function backOffMs(failures: number, random: () => number): number {
  const full = Math.min(FIRST_PAUSE_MS * 2 ** Math.min(failures - 1, DOUBLINGS), LONGEST_PAUSE_MS);
  return Math.round(full * (0.5 + 0.5 * random()));
}

/** Past so many doublings the longest pause is reached anyway. */
const DOUBLINGS = 20;
