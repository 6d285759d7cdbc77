import type { Followed, Memory } from "./followed.ts";

/**
 * How long a corridor that is folded again runs before it goes on from what was restated: longer than any journey,
 * so that whatever settles from then on settles as it did. Assumption: a train's journey over one corridor and its idle end.
 */
export const WARM_UP_MS = 24 * 3_600_000;

/**
 * A corridor that is folded again from somewhere in the middle:
 *
 *   warming ──it comes to a mark at which it once restated──► awaiting ──that restatement is read──► done
 *                                                                 └── its position is reached before ──┘
 *
 * What lies between the record at which it restated and the restatement itself, which came into the log a little later, is
 * held until that is read, and folded then.
 */
export class WarmUp {
  private readonly position: number;
  private state: "warming" | "awaiting" | "done" = "warming";
  private firstMarkMs = Number.NaN;
  private awaitedMs = Number.NaN;
  private isReading = false;
  private memory: Memory | null = null;
  private warnings: Memory["warnings"] = [];
  private held: Followed[] = [];

  /** `position`: below it everything was said before. */
  constructor(position: number) {
    this.position = position;
  }

  /** The corridor came to a mark, while a record at `offset` was folded. */
  marked(atMs: number, offset: number): void {
    if (this.state !== "warming" || offset >= this.position) return;
    if (Number.isNaN(this.firstMarkMs)) this.firstMarkMs = atMs;
    if (atMs - this.firstMarkMs < WARM_UP_MS) return;
    this.state = "awaiting";
    this.awaitedMs = atMs;
  }

  /** Whether records are to be offered to `hold` instead of being folded. */
  get isAwaiting(): boolean {
    return this.state === "awaiting";
  }

  /** Holds a record. Answers with what is to be done now, once there is something: what was known, and what was held. */
  hold(followed: Followed, offset: number): { memory: Memory | null; held: readonly Followed[]; isTaken: boolean } | null {
    if (offset >= this.position) return { ...this.end(), isTaken: false };
    if (followed.type === "kept-mark" && Date.parse(followed.time) === this.awaitedMs) {
      this.isReading = followed.phase === "begun";
      return this.isReading ? null : { ...this.end(), isTaken: true };
    }
    if (this.isReading && followed.type === "kept-warning") this.warnings.push(followed.warning);
    else if (this.isReading && followed.type === "kept-watch") this.memory = { watch: followed.state, warnings: this.warnings };
    else this.held.push(followed);
    return null;
  }

  private end(): { memory: Memory | null; held: readonly Followed[] } {
    this.state = "done";
    const { memory, held } = this;
    this.memory = null;
    this.warnings = [];
    this.held = [];
    return { memory, held };
  }
}
