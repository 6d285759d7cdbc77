import { wallClockOf } from "../../line/wall-clock.ts";

/** Local times of a railroad, for people. */
export interface Clock {
  zone: string;
  /** 05:06 */
  time(ms: number): string;
  /** 2026-03-04 */
  day(ms: number): string;
  /** 2026-03-04 05:06:07 */
  full(ms: number): string;
  /** How far local time is ahead of UTC at that moment. */
  offsetMs(ms: number): number;
}

/** The clock of an IANA time zone. One a report: making one is slow. An unknown zone is a fault of the line file, found there. */
export function clockOf(zone: string): Clock {
  const wallTime = wallClockOf(zone);
  const full = (ms: number): string => {
    if (!Number.isFinite(ms)) return "–";
    const { day, hour, minute, second } = wallTime(ms);
    return `${day} ${hour}:${minute}:${second}`;
  };
  return {
    zone,
    full,
    time: (ms) => full(ms).slice(11, 16),
    day: (ms) => full(ms).slice(0, 10),
    offsetMs: (ms) => Date.parse(`${full(ms).replace(" ", "T")}Z`) - Math.floor(ms / 1000) * 1000,
  };
}
