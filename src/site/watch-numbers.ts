/** What the watch over the sites holds against. All are our assumptions until a railroad's own experience says better. */

/** A site is dead after this many of its own heartbeat intervals without a word. */
export const DEAD_AFTER_INTERVALS = 3;
/** A heartbeat interval is never taken for shorter than this, in milliseconds: bursts after a reconnect are no interval. */
export const SHORTEST_INTERVAL_MS = 60_000;
/** Trains in a row that both neighbours saw and the site did not. */
export const SILENT_AFTER_TRAINS = 2;
/** Learned bias that is said aloud, and the one below which it is taken back, °F. */
export const DRIFT_RAISE_F = 12;
export const DRIFT_CLEAR_F = 8;
/** Passes in a row with one side doubted as too low before a scanner is called cold. */
export const COLD_AFTER_PASSES = 3;
/** Miscounts are judged over this many axles, and called so above this many per 1,000 axles. */
export const MISCOUNT_AXLES = 4_000;
export const MISCOUNT_PER_1000 = 3;
