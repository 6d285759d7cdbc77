import type { Clock } from "./clock.ts";
import type { Pace } from "./pace.ts";

/** After a batch without another one a partition has nothing to read, as far as the others are concerned. */
const RESTS_AFTER_MS = 500;

/** A task's place among the tasks of its stage in this process: none runs far ahead of the others in time. */
export class TaskPlace {
  private readonly name: string;
  private readonly pace: Pace;
  private readonly clock: Clock;
  private cancelRest: (() => void) | null = null;

  constructor(name: string, pace: Pace, clock: Clock) {
    this.name = name;
    this.pace = pace;
    this.clock = clock;
  }

  /** Time up to which may be folded now. */
  get limitMs(): number {
    return this.pace.limit(this.name);
  }

  /** It reads again: it does not rest. */
  reads(): void {
    this.cancelRest?.();
    this.cancelRest = null;
  }

  /** It rests, unless more records come soon. */
  restSoon(): void {
    this.cancelRest?.();
    this.cancelRest = this.clock.after(RESTS_AFTER_MS, () => this.pace.rest(this.name));
  }

  /** It has come to a time; whether that is too far ahead of the others. */
  isAheadAt(ms: number): boolean {
    this.pace.at(this.name, ms);
    return ms > this.pace.limit(this.name);
  }

  /** Calls when the others have come near. */
  wait(ms: number, resume: () => void): void {
    this.pace.wait(this.name, ms, resume);
  }

  leave(): void {
    this.reads();
    this.pace.rest(this.name);
  }
}
