import { needOf } from "./urgency.ts";
import type { WarningCase } from "./warning-case.ts";

/**
 * Measures of alarm management, IEC 62682 and EEMUA 191 as quoted [S]: a flood begins over 10 alarms in 10 minutes and ends
 * under 5; fewer than 1 per 10 minutes is very likely acceptable; 150 a day manageable, 300 not; stale: over 24 hours.
 */
export const WINDOW_MS = 10 * 60_000;
export const FLOOD_BEGINS_OVER = 10;
export const FLOOD_ENDS_UNDER = 5;
export const ACCEPTABLE_PER_WINDOW = 1;
export const MANAGEABLE_A_DAY = 150;
export const NOT_MANAGEABLE_A_DAY = 300;
export const STALE_MS = 24 * 3_600_000;

const DAY_MS = 24 * 3_600_000;

export interface Flood {
  fromMs: number;
  toMs: number;
  alarms: number;
}

export interface Measures {
  fromMs: number;
  toMs: number;
  operators: number;
  /** Warnings raised or escalated to warn or limit: what required a response. A watch is not an alarm. */
  alarms: number;
  perWindowAndOperator: number;
  perDayAndOperator: number;
  mostInWindow: number;
  floods: Flood[];
  byLevel: { watch: number; warn: number; limit: number };
  stale: number;
  shelved: number;
  unacknowledged: number;
  /** Median minutes from an alarm to its first acknowledgement, of those acknowledged in the window. */
  minutesToAcknowledge: number | null;
  judgement: "acceptable" | "manageable" | "more than manageable" | "not manageable";
}

/** Times at which somebody had to respond to a warning: each rise of its level to warn or limit. */
export function alarmsOf({ versions }: Pick<WarningCase, "versions">): number[] {
  const times: number[] = [];
  let highest = 0;
  for (const { level, timeMs } of versions) {
    const rank = level === "limit" ? 2 : level === "warn" ? 1 : 0;
    if (rank > highest) times.push(timeMs);
    highest = Math.max(highest, rank);
  }
  return times;
}

/** The same of all warnings, in a window and in order. */
export function alarmTimes(cases: Iterable<WarningCase>, fromMs: number, toMs: number): number[] {
  const times: number[] = [];
  for (const one of cases) times.push(...alarmsOf(one).filter((timeMs) => timeMs >= fromMs && timeMs <= toMs));
  return times.sort((a, b) => a - b);
}

/** Never less than none: a site's clock may be ahead of the desk's. */
export function minutesBetween(fromMs: number, toMs: number): number {
  return Math.max(0, toMs - fromMs) / 60_000;
}

/** Floods among alarm times in order: a window of ten minutes sliding over them. */
export function floodsOf(times: readonly number[]): { floods: Flood[]; mostInWindow: number } {
  const floods: Flood[] = [];
  let open: Flood | null = null;
  let first = 0;
  let mostInWindow = 0;
  for (let i = 0; i < times.length; i++) {
    const now = times[i]!;
    while (times[first]! <= now - WINDOW_MS) first++;
    const count = i - first + 1;
    mostInWindow = Math.max(mostInWindow, count);
    if (open !== null && count < FLOOD_ENDS_UNDER) open = null;
    if (open === null && count > FLOOD_BEGINS_OVER) {
      open = { fromMs: times[first]!, toMs: now, alarms: count };
      floods.push(open);
    } else if (open !== null) {
      open.toMs = now;
      open.alarms++;
    }
  }
  return { floods, mostInWindow };
}

export function measuresOf(cases: readonly WarningCase[], fromMs: number, toMs: number, operators: number): Measures {
  const times = alarmTimes(cases, fromMs, toMs);
  const { floods, mostInWindow } = floodsOf(times);
  const windows = Math.max(1, (toMs - fromMs) / WINDOW_MS);
  const staff = Math.max(1, operators);
  const perDay = times.length / staff / Math.max((toMs - fromMs) / DAY_MS, WINDOW_MS / DAY_MS);
  const byLevel = { watch: 0, warn: 0, limit: 0 };
  let stale = 0;
  let shelved = 0;
  let unacknowledged = 0;
  for (const one of cases) {
    const row = one.asRow();
    if (needOf(row) === "closed") continue;
    byLevel[row.level]++;
    if (toMs - row.raisedMs > STALE_MS) stale++;
    if (row.state === "shelved") shelved++;
    if (row.state === "unacknowledged" && row.level !== "watch") unacknowledged++;
  }
  return {
    fromMs,
    toMs,
    operators: staff,
    alarms: times.length,
    perWindowAndOperator: times.length / windows / staff,
    perDayAndOperator: perDay,
    mostInWindow,
    floods,
    byLevel,
    stale,
    shelved,
    unacknowledged,
    minutesToAcknowledge: minutesToAcknowledge(cases, fromMs, toMs),
    judgement: judged(times.length / windows / staff, perDay),
  };
}

export function judged(perWindow: number, perDay: number): Measures["judgement"] {
  if (perDay >= NOT_MANAGEABLE_A_DAY) return "not manageable";
  if (perDay > MANAGEABLE_A_DAY) return "more than manageable";
  return perWindow < ACCEPTABLE_PER_WINDOW ? "acceptable" : "manageable";
}

function minutesToAcknowledge(cases: readonly WarningCase[], fromMs: number, toMs: number): number | null {
  const minutes: number[] = [];
  for (const one of cases) {
    const first = one.actions.map(({ action }) => action).filter((action) => action.action === "acknowledge");
    const acknowledgedMs = Math.min(...first.map((action) => Date.parse(action.time)));
    const raisedMs = alarmsOf(one)[0];
    if (raisedMs === undefined || !Number.isFinite(acknowledgedMs) || acknowledgedMs < fromMs || acknowledgedMs > toMs) continue;
    minutes.push(minutesBetween(raisedMs, acknowledgedMs));
  }
  if (minutes.length === 0) return null;
  minutes.sort((a, b) => a - b);
  return minutes[Math.floor(minutes.length / 2)] ?? null;
}
