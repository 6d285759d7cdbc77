/**
 * The desk's own time: what "now" is for ages, for arrivals ahead and for the time of an action. The clock of the machine,
 * but in a demonstration, where a recorded day runs faster.
 */
export interface DeskClock {
  nowMs(): number;
  /** Seconds of desk time in a second of the machine's. */
  readonly speed: number;
}

export const machineClock: DeskClock = { nowMs: () => Date.now(), speed: 1 };
