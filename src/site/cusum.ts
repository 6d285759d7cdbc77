/**
 * Page's cumulative sum, one-sided: adds up what exceeds the allowance and starts again at zero. It answers when the sum
 * passes the decision interval. Plain data, so that it can be kept as a record.
 */
export interface Cusum {
  sum: number;
  /** Since when the sum has not been at zero; null at zero. */
  sinceMs: number | null;
}

export function emptyCusum(): Cusum {
  return { sum: 0, sinceMs: null };
}

/** Takes one step of `score` (what exceeds the allowance, or a log likelihood ratio); true when the sum reaches `decision`. */
export function accumulate(cusum: Cusum, score: number, decision: number, atMs: number): boolean {
  const sum = Math.max(0, cusum.sum + score);
  if (sum === 0) cusum.sinceMs = null;
  else cusum.sinceMs ??= atMs;
  // No higher than twice the interval: what was wrong for a month is believed mended as soon as what was wrong for a day.
  cusum.sum = Math.min(sum, 2 * decision);
  return cusum.sum >= decision;
}

/**
 * Log likelihood ratio of a yes or no, for a sum whose decision interval is ln(n): on average at least n steps go by between
 * false alarms, whatever the two chances (Lorden 1971, theorem 2: from memory).
 */
export function evidenceOf(happened: boolean, usually: number, whenWrong: number): number {
  return happened ? Math.log(whenWrong / usually) : Math.log((1 - whenWrong) / (1 - usually));
}
