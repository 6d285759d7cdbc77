import type { DeskClock } from "../clock.ts";

/** The time of a recorded day that runs faster: first as fast as its records are taken, then at `speed`. */
export class DemoClock implements DeskClock {
  readonly speed: number;
  private baseMs: number;
  private startedAt: number | null = null;

  constructor(fromMs: number, speed: number) {
    this.baseMs = fromMs;
    this.speed = speed;
  }

  nowMs(): number {
    if (this.startedAt === null) return Math.floor(this.baseMs);
    return Math.floor(this.baseMs + (performance.now() - this.startedAt) * this.speed);
  }

  /** While it does not run: the time of the record that was taken last. Never back. */
  reach(ms: number): void {
    if (this.startedAt === null && ms > this.baseMs) this.baseMs = ms;
  }

  run(): void {
    this.startedAt ??= performance.now();
  }

  /** Milliseconds of the machine until a time of the day. */
  until(ms: number): number {
    return (ms - this.nowMs()) / this.speed;
  }
}
