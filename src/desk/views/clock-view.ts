import type { DeskState } from "../board/desk-state.ts";
import type { Lack } from "../past/past.ts";

export interface ClockView {
  nowMs: number;
  speed: number;
  dataMs: number | null;
  /** What the log no longer holds of a time that is looked back to; always empty for now. */
  lacks: Lack[];
}

/** What the page tells ages from: as of now, or as of the time that is looked back to. */
export function clockView(state: DeskState, nowMs: number, speed: number, lacks: Lack[] = []): ClockView {
  return { nowMs, speed, dataMs: Number.isFinite(state.dataMs) ? state.dataMs : null, lacks };
}
