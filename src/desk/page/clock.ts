import { type WallTime, wallClockOf } from "../../line/wall-clock.ts";
import type { ClockView } from "../views/clock-view.ts";

/** The desk's time on this page: what the server said last, carried on by this machine's own ticking. */
export interface PageClock extends ClockView {
  /** performance.now() when the server said it. */
  heardAt: number;
}

export function heard(view: ClockView): PageClock {
  return { ...view, heardAt: performance.now() };
}

/** Desk time now. */
export function nowOf(clock: PageClock): number {
  return clock.nowMs + (performance.now() - clock.heardAt) * clock.speed;
}

const clocks = new Map<string, (ms: number) => WallTime>();

function wallTime(ms: number, zone: string): WallTime {
  let clock = clocks.get(zone);
  if (clock === undefined) {
    clock = wallClockOf(zone);
    clocks.set(zone, clock);
  }
  return clock(ms);
}

/** 07:44 */
export function clockWords(ms: number, zone: string): string {
  const { hour, minute } = wallTime(ms, zone);
  return `${hour}:${minute}`;
}

/** 07:44:39 */
export function secondsWords(ms: number, zone: string): string {
  const { hour, minute, second } = wallTime(ms, zone);
  return `${hour}:${minute}:${second}`;
}

/** 2026-03-04 */
export function dayWords(ms: number, zone: string): string {
  return wallTime(ms, zone).day;
}

/** CST */
export function zoneWords(ms: number, zone: string): string {
  return wallTime(ms, zone).zoneName;
}

/** 13:44 UTC, 2026-03-04: the day of UTC, which in the evening is not the railroad's. */
export function utcWords(ms: number): string {
  return `${clockWords(ms, "UTC")} UTC, ${dayWords(ms, "UTC")}`;
}

/** 07:44 (13:44 UTC) */
export function bothWords(ms: number, zone: string): string {
  return `${clockWords(ms, zone)} (${clockWords(ms, "UTC")} UTC)`;
}

/** 2026-03-04 07:44 (13:44 UTC), with the day of UTC where it is another one. */
export function fullWords(ms: number, zone: string): string {
  const [day, dayUtc] = [dayWords(ms, zone), dayWords(ms, "UTC")];
  return `${day} ${clockWords(ms, zone)} (${day === dayUtc ? "" : `${dayUtc} `}${clockWords(ms, "UTC")} UTC)`;
}

/** 07:44 of today, 03-03 07:44 of any other day: a condition may have stood for days. */
export function whenWords(ms: number, nowMs: number, zone: string): string {
  const day = dayWords(ms, zone);
  return day === dayWords(nowMs, zone) ? clockWords(ms, zone) : `${day.slice(5)} ${clockWords(ms, zone)}`;
}

/** The same with UTC beside it. */
export function whenBothWords(ms: number, nowMs: number, zone: string): string {
  return dayWords(ms, zone) === dayWords(nowMs, zone) ? bothWords(ms, zone) : fullWords(ms, zone);
}

/** What an input of type datetime-local holds, in the railroad's zone. */
export function inputOf(ms: number, zone: string): string {
  return `${dayWords(ms, zone)}T${clockWords(ms, zone)}`;
}

/** The instant that a railroad's wall clock shows as `text` (YYYY-MM-DDTHH:MM); NaN for nonsense. */
export function instantOf(text: string, zone: string): number {
  const asUtc = Date.parse(`${text}:00Z`);
  if (!Number.isFinite(asUtc)) return Number.NaN;
  // The offset at that moment, asked twice: once more after the first guess, for the day on which clocks change.
  const offset = (ms: number) => Date.parse(`${inputOf(ms, zone)}:00Z`) - Math.floor(ms / 60_000) * 60_000;
  const guess = asUtc - offset(asUtc);
  return asUtc - offset(guess);
}

const EXACT_HOURS = 6;

/** "under 1 min", "3 min", "2 h 5 min", "7 h": how long ago or ahead, always positive. */
export function spanWords(ms: number): string {
  const minutes = Math.round(Math.abs(ms) / 60_000);
  if (minutes < 1) return "under 1 min";
  if (minutes < 60) return `${minutes} min`;
  const hours = Math.floor(minutes / 60);
  const rest = minutes % 60;
  // What lies that far off is not told by the minute.
  if (hours >= EXACT_HOURS && hours < 48) return `${Math.round(minutes / 60)} h`;
  if (hours < 48) return rest === 0 ? `${hours} h` : `${hours} h ${rest} min`;
  return `${Math.round(hours / 24)} days`;
}

export function agoWords(ms: number, nowMs: number): string {
  const passed = nowMs - ms;
  if (Math.abs(passed) < 30_000) return "just now";
  return passed > 0 ? `${spanWords(passed)} ago` : `in ${spanWords(passed)}`;
}
