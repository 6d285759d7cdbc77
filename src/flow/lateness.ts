import type { Pass } from "../pass/pass.ts";

/**
 * From here on a pass is late: a train at 47 mph is 12 miles on, about as far as sites lie apart (published averages 13.9
 * and 14.9 miles [S]), so what is said of the way ahead may be behind it. Assumption.
 */
export const LATE_MS = 15 * 60_000;

/**
 * A pass that came to be followed at `arrivedMs`, by the log's clock, marked when that was long after its end: the site was
 * cut off, or we were. The log keeps when a record came, so folding again says the same. NaN: nobody knows when it came.
 */
export function withLateness(pass: Pass, arrivedMs: number): Pass {
  const lateMs = arrivedMs - pass.endedMs;
  return lateMs > LATE_MS ? { ...pass, lateMs } : pass;
}
