import type { DeskState } from "../board/desk-state.ts";

export interface ClockView {
  nowMs: number;
  speed: number;
  dataMs: number | null;
}

/** What the page tells ages from: as of now, or as of the time that is looked back to. */
export function clockView(state: DeskState, nowMs: number, speed: number): ClockView {
  return { nowMs, speed, dataMs: Number.isFinite(state.dataMs) ? state.dataMs : null };
}
