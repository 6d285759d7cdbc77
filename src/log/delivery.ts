import type { LogRecord } from "./log.ts";

/** Where a delivery reads: committed records only. */
export interface Shelf {
  first(topic: string, partition: number): number;
  /** Offset after the last record. */
  end(topic: string, partition: number): number;
  /** Some of the records from an offset on, in order; none when there are none yet. How many is the shelf's to bound. */
  read(topic: string, partition: number, from: number): LogRecord[];
}

/**
 * One partition handed to one reader, batch after batch, each only when the one before was answered. Within a process:
 * the log says `wake` when there is more.
 */
export class Delivery {
  readonly topic: string;
  readonly partition: number;
  private readonly shelf: Shelf;
  private readonly hand: (records: readonly LogRecord[], end: number) => Promise<void>;
  private readonly failed: (error: Error) => void;
  /** -1: not started. */
  private next = -1;
  /** Rises when the reader asks for another place: what was handed out before then no longer moves `next`. */
  private turn = 0;
  private paused = false;
  private stopped = false;
  private running: Promise<void> | null = null;

  constructor(
    shelf: Shelf,
    topic: string,
    partition: number,
    hand: (records: readonly LogRecord[], end: number) => Promise<void>,
    failed: (error: Error) => void,
  ) {
    this.shelf = shelf;
    this.topic = topic;
    this.partition = partition;
    this.hand = hand;
    this.failed = failed;
  }

  /** Reads from an offset on; where retention took that record, from the oldest there is. */
  resume(from: number): void {
    this.next = Math.max(from, this.shelf.first(this.topic, this.partition));
    this.turn++;
    this.paused = false;
    this.wake();
  }

  pause(): void {
    this.paused = true;
  }

  /** Nothing new is handed out. Resolves when the last batch was answered. */
  async stop(): Promise<void> {
    this.stopped = true;
    await this.running;
  }

  get isStopped(): boolean {
    return this.stopped;
  }

  /** There may be more to read. */
  wake(): void {
    if (this.running === null && this.isReady()) this.running = this.run();
  }

  private isReady(): boolean {
    if (this.stopped || this.paused || this.next < 0) return false;
    // Retention may have taken all that was still to come: then there is nothing to hand out, and not nothing for ever.
    this.next = Math.max(this.next, this.shelf.first(this.topic, this.partition));
    return this.next < this.shelf.end(this.topic, this.partition);
  }

  private async run(): Promise<void> {
    try {
      while (this.isReady()) {
        const { turn } = this;
        const records = this.shelf.read(this.topic, this.partition, this.next);
        await this.hand(records, this.shelf.end(this.topic, this.partition));
        const last = records.at(-1);
        if (turn === this.turn && last !== undefined) this.next = last.offset + 1;
      }
    } catch (error) {
      this.stopped = true;
      this.failed(error instanceof Error ? error : new Error(String(error)));
    } finally {
      this.running = null;
    }
  }
}
