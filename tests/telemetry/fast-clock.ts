/**
 * `node --import fast-clock.ts ...`: the wall clock runs `FAST_FACTOR` times as fast since `FAST_FROM`, so that three heartbeat
 * intervals of a site pass in seconds. Timers run as they are. Worker threads take it over with the process's flags.
 */
const from = Number(process.env["FAST_FROM"]);
const factor = Number(process.env["FAST_FACTOR"]);
const realNow = Date.now;
Date.now = () => Math.round(from + (realNow() - from) * factor);
