import type { Source } from "../log.ts";

/** A partition in a member's hands. */
export class Seat {
  readonly source: Source;
  readonly taken = new AbortController();
  /**
   * claiming: its worker has not said yet where to read from; nothing is delivered.
   * reading: records are delivered from `next` on.
   * paused: until the worker says from where to go on.
   */
  state: "claiming" | "reading" | "paused" = "claiming";
  /** Offset after the last record that the worker has answered for. */
  next = -1;
  /** Everything from where the worker last asked to begin up to here was handed to it. */
  handed = -1;
  /** Everything from where reading began up to here was fetched and dealt with, control records and aborted ones included. */
  seen = -1;
  /** Rises with every new place to read from: a batch fetched before it no longer counts. */
  turn = 0;
  /** Rises with every word of the worker's about what to read: where to begin is asked of the cluster, and answers may overtake each other. */
  wish = 0;
  /** A batch is with the worker. */
  busy = false;
  /** Since when `seen` has stood still though there was more; null while it moves or there is nothing. */
  stuckSinceMs: number | null = null;
  private watched = -1;

  constructor(source: Source) {
    this.source = source;
  }

  get stale(): boolean {
    return this.taken.signal.aborted;
  }

  /** The watchdog looks: where the partition ends, and what time it is. */
  look(end: number, nowMs: number): void {
    if (this.seen !== this.watched || this.seen >= end || this.state !== "reading" || this.busy) this.stuckSinceMs = null;
    else this.stuckSinceMs ??= nowMs;
    this.watched = this.seen;
  }

  /** Nothing is delivered until the worker says from where to go on. */
  hold(): void {
    this.state = "paused";
    this.wish++;
  }

  /** `asked`: what the worker said; before `offset` where retention took what lies between. */
  readFrom(offset: number, asked = offset): void {
    this.next = offset;
    this.handed = Math.min(asked, offset);
    this.seen = offset;
    this.turn++;
    this.state = "reading";
  }
}

export function seatKey(topic: string, partition: number): string {
  return `${topic}/${partition}`;
}
