import type { Pass } from "../pass/pass.ts";
import { minutesWords } from "./words.ts";

/** Whole minutes by which a pass came too late to be acted on as if it were now; null for one that came in time. */
export function lateMinutes(pass: Pass): number | null {
  return pass.lateMs === undefined ? null : Math.max(1, Math.floor(pass.lateMs / 60_000));
}

/** Said before all other reasons: distances and times ahead count from where the train was then. */
export function lateReason(minutes: number): string {
  return `This is late: the pass was ${minutesWords(minutes)} old when it could be looked at, and the train has gone on since.`;
}
