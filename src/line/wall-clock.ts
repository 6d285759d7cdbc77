/** What a clock on a wall of the railroad shows: digits as text, with their leading zeros. */
export interface WallTime {
  /** 2026-03-04 */
  day: string;
  hour: string;
  minute: string;
  second: string;
  /** The zone's short name at that moment: CST, CDT. */
  zoneName: string;
}

/** Reads an IANA time zone's wall clock at an instant (ms). Keep what it returns: making one is slow. An unknown zone is a RangeError. */
export function wallClockOf(zone: string): (ms: number) => WallTime {
  const format = new Intl.DateTimeFormat("en-US", {
    timeZone: zone,
    hourCycle: "h23",
    year: "numeric",
    month: "2-digit",
    day: "2-digit",
    hour: "2-digit",
    minute: "2-digit",
    second: "2-digit",
    timeZoneName: "short",
  });
  return (ms) => {
    const parts: Record<string, string> = {};
    for (const { type, value } of format.formatToParts(ms)) parts[type] = value;
    const { year = "", month = "", day = "", hour = "", minute = "", second = "", timeZoneName = zone } = parts;
    return { day: `${year}-${month}-${day}`, hour, minute, second, zoneName: timeZoneName };
  };
}
