import type { Batch, Log, LogRecord, Tail } from "../log/log.ts";
import { holdsRecords } from "../log/second-reader.ts";

export interface Stretch {
  topic: string;
  partition: number;
  /** Offsets: from the first to read to the one after the last. */
  from: number;
  end: number;
  /** Times at which the log took the records; `toMs` is exclusive. */
  fromMs: number;
  toMs: number;
}

/**
 * A partition whose end was never delivered: what stands there was never committed, or is no record (a log may count marks
 * of its own among the offsets). After so long without anything a second reader is asked whether there is more.
 */
const QUIET_MS = 10_000;
const SECOND_READER_MS = 5_000;
/** So often a second reader may find more than this one is handed; then the log is told of as standing still. */
const MOST_STALLS = 6;

type Readable = Pick<Log, "tail" | "extent">;

/**
 * One partition of a log as a stream of records, from one time to another and no further than where it ended when this
 * began. It holds one batch; the log waits until that was taken. Each has a tail of its own, for whoever puts several in
 * order takes from one while others wait, and a log may wait with all partitions of a tail for one of them.
 */
export class PartitionReader {
  readonly #stretch: Stretch;
  readonly #log: Readable;
  #tail: Tail | null = null;
  #batch: readonly LogRecord[] = [];
  #at = 0;
  #isDone: boolean;
  #taken: (() => void) | null = null;
  #arrived: (() => void) | null = null;
  #failure: Error | null = null;
  /** Offset behind the last record handed to this reader, be it in the stretch or not. */
  #next: number;
  readonly #quietMs: number;

  private constructor(log: Readable, stretch: Stretch, quietMs: number) {
    this.#log = log;
    this.#next = stretch.from;
    this.#quietMs = quietMs;
    this.#stretch = stretch;
    this.#isDone = stretch.from >= stretch.end;
  }

  static async open(log: Readable, stretch: Stretch, quietMs = QUIET_MS): Promise<PartitionReader> {
    const reader = new PartitionReader(log, stretch, quietMs);
    if (!reader.#isDone) await reader.#open();
    return reader;
  }

  /** Whether the next record is at hand, or there is none any more. */
  get isReady(): boolean {
    return this.#isDone || this.#at < this.#batch.length;
  }

  /** When the next record came; infinity when there is none. */
  get nextMs(): number {
    return this.#batch[this.#at]?.arrivedMs ?? Number.POSITIVE_INFINITY;
  }

  /** Waits for the next record. @throws what broke the tail, Error when the log holds more and hands out nothing */
  async ready(): Promise<void> {
    for (let stalls = 0; !this.isReady; ) {
      if (this.#failure !== null) throw this.#failure;
      const { promise, resolve } = Promise.withResolvers<boolean>();
      this.#arrived = () => resolve(true);
      const quiet = setTimeout(() => resolve(false), this.#quietMs);
      const hasCome = await promise;
      clearTimeout(quiet);
      if (hasCome) continue;
      const { topic, partition, end } = this.#stretch;
      const more = await holdsRecords(this.#log, { topic, partition, from: this.#next, end }, Math.min(SECOND_READER_MS, this.#quietMs));
      if (!more) this.#isDone = true;
      else if (++stalls >= MOST_STALLS)
        throw new Error(`${topic}/${partition} holds records from offset ${this.#next} on, and the log hands out none of them`);
    }
  }

  /** The next record; only when there is one. */
  take(): LogRecord {
    const record = this.#batch[this.#at++];
    if (record === undefined) throw new Error("nothing at hand: wait for ready() and look at nextMs");
    if (this.#at === this.#batch.length) this.#release();
    return record;
  }

  async close(): Promise<void> {
    this.#isDone = true;
    this.#release();
    await this.#tail?.close();
  }

  async #open(): Promise<void> {
    const { topic, partition, from } = this.#stretch;
    const tail = await this.#log.tail([{ topic, partition, offset: from }], { records: (batch) => this.#take(batch) });
    this.#tail = tail;
    void tail.broken.then((error) => {
      this.#failure = error;
      this.#arrived?.();
    });
  }

  /**
   * Keeps what lies in the stretch, and answers when it was taken. Where the batch says that the partition ends does not
   * count: a broker that has just become leader may know of less than was known when the stretch was measured.
   */
  async #take({ records, through }: Pick<Batch, "records" | "through">): Promise<void> {
    if (this.#isDone) return;
    const { fromMs, toMs, end: lastEnd } = this.#stretch;
    const last = records.at(-1);
    if (last !== undefined) this.#next = last.offset + 1;
    const isLast = last === undefined || (through ?? last.offset + 1) >= lastEnd || last.arrivedMs >= toMs;
    this.#batch = records.filter(({ offset, arrivedMs }) => offset < lastEnd && arrivedMs >= fromMs && arrivedMs < toMs);
    this.#at = 0;
    if (isLast) this.#isDone = true;
    if (this.#batch.length > 0 || isLast) this.#arrived?.();
    if (this.#batch.length === 0) return;
    await new Promise<void>((resolve) => {
      this.#taken = resolve;
    });
  }

  #release(): void {
    this.#taken?.();
    this.#taken = null;
  }
}
