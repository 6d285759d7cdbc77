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

/** The clock of an IANA time zone. One formatter a report: making one is slow. An unknown zone is a fault of the line file, found there. */
export function clockOf(zone: string): Clock {
  const format = new Intl.DateTimeFormat("en-US", {
    timeZone: zone,
    hourCycle: "h23",
    year: "numeric",
    month: "2-digit",
    day: "2-digit",
    hour: "2-digit",
    minute: "2-digit",
    second: "2-digit",
  });
  const full = (ms: number): string => {
    if (!Number.isFinite(ms)) return "–";
    const parts: Record<string, string> = {};
    for (const { type, value } of format.formatToParts(ms)) parts[type] = value;
    return `${parts["year"]}-${parts["month"]}-${parts["day"]} ${parts["hour"]}:${parts["minute"]}:${parts["second"]}`;
  };
  return {
    zone,
    full,
    time: (ms) => full(ms).slice(11, 16),
    day: (ms) => full(ms).slice(0, 10),
    offsetMs: (ms) => Date.parse(`${full(ms).replace(" ", "T")}Z`) - Math.floor(ms / 1000) * 1000,
  };
}
