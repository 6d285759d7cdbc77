import { Delivery } from "../delivery.ts";
import { type Group, type Member, sourceKey } from "../group.ts";
import {
  type Claim,
  ClosedError,
  type Commit,
  FencedError,
  type Log,
  type LogRecord,
  type Membership,
  type NewRecord,
  OverloadedError,
  type Source,
  type Tail,
  type TailHandler,
  TooLargeError,
  type Worker,
} from "../log.ts";
import { SqliteStore, type StoreSettings } from "./store.ts";

/** Bytes that may be on their way to the disk at once. */
export const WAITING_BYTES = 16 * 1024 * 1024;

export interface SqliteLogSettings extends StoreSettings {
  waitingBytes?: number;
}

/**
 * The embedded log: one file in a data folder, one process. Opens the folder, and makes it where there is none.
 * @throws LogInUseError, LogUnreadableError
 */
export async function openSqliteLog(settings: SqliteLogSettings): Promise<Log> {
  const store = await SqliteStore.open(settings);
  return new SqliteLog(store, settings.waitingBytes ?? WAITING_BYTES, () => store.close());
}

/** One user of an open data folder. Several may share it inside one process; the claims' epochs keep them apart. */
export class SqliteLog implements Log {
  private readonly store: SqliteStore;
  private readonly mostWaiting: number;
  private readonly closing: () => Promise<void>;
  private readonly members: { group: Group; member: Member }[] = [];
  private readonly deliveries = new Set<Delivery>();
  private waiting = 0;
  private closed = false;

  constructor(store: SqliteStore, waitingBytes: number, closing: () => Promise<void> = async () => {}) {
    this.store = store;
    this.mostWaiting = waitingBytes;
    this.closing = closing;
  }

  async partitions(topic: string): Promise<number> {
    return this.store.shelf.partitions(topic);
  }

  async extent(topic: string): Promise<{ partition: number; from: number; end: number }[]> {
    const { shelf } = this.store;
    return Array.from({ length: shelf.partitions(topic) }, (_, partition) => ({
      partition,
      from: shelf.first(topic, partition),
      end: shelf.end(topic, partition),
    }));
  }

  async offsetsAt(topic: string, timeMs: number): Promise<{ partition: number; offset: number }[]> {
    this.mustBeOpen();
    const { shelf } = this.store;
    return Array.from({ length: shelf.partitions(topic) }, (_, partition) => ({
      partition,
      offset: shelf.offsetAt(topic, partition, timeMs),
    }));
  }

  async append(records: readonly NewRecord[]): Promise<void> {
    this.mustBeOpen();
    if (records.length === 0) return;
    const placed = this.store.place(records);
    const bytes = placed.reduce((sum, { value }) => sum + value.byteLength, 0);
    if (bytes > this.mostWaiting) throw new TooLargeError(`${bytes} bytes at once; the log takes ${this.mostWaiting}`);
    if (this.waiting + bytes > this.mostWaiting) throw new OverloadedError(`${this.waiting} bytes are waiting for the disk already`);
    this.waiting += bytes;
    try {
      await this.store.do({ kind: "append", records: placed });
    } finally {
      this.waiting -= bytes;
    }
  }

  async claim(source: Source): Promise<Claim> {
    this.mustBeOpen();
    this.store.shelf.at(source.topic, source.partition);
    const done = await this.store.do({ kind: "claim", source });
    if (done.kind !== "claimed") throw new Error(`a claim was answered with ${done.kind}`);
    const { epoch, position, refoldFrom } = done;
    // Retention may have taken what a long stop would need; then the oldest there is must do.
    const first = this.store.shelf.first(source.topic, source.partition);
    const start = { position: Math.max(position, first), refoldFrom: Math.max(refoldFrom, first) };
    return { source, start, commit: (commit) => this.commit(source, epoch, commit), release: async () => {} };
  }

  async work(stage: string, topics: readonly string[], worker: Worker): Promise<Membership> {
    this.mustBeOpen();
    const group = this.store.group(stage, topics);
    const member = group.join(worker);
    this.members.push({ group, member });
    return member;
  }

  async tail(from: readonly { topic: string; partition: number; offset: number }[], handler: TailHandler): Promise<Tail> {
    this.mustBeOpen();
    const { promise: broken, resolve: fail } = Promise.withResolvers<Error>();
    const deliveries = from.map(({ topic, partition, offset }) => {
      this.store.shelf.at(topic, partition);
      const hand = (records: readonly LogRecord[], end: number) => handler.records({ topic, partition, records, end });
      const delivery = new Delivery(this.store.shelf, topic, partition, hand, fail);
      this.store.addTail(delivery);
      this.deliveries.add(delivery);
      delivery.resume(offset);
      return delivery;
    });
    return { broken, close: () => this.drop(deliveries) };
  }

  async close(): Promise<void> {
    if (this.closed) return;
    await Promise.all(this.members.map(({ member }) => member.leave()));
    this.closed = true;
    await this.drop([...this.deliveries]);
    await this.closing();
  }

  private async commit(source: Source, epoch: number, { position, refoldFrom, outputs }: Commit): Promise<void> {
    this.mustBeOpen();
    const records = this.store.place(outputs);
    const done = await this.store.do({ kind: "commit", source, epoch, position, refoldFrom, records });
    if (done.kind === "fenced") throw new FencedError(`${sourceKey(source)} was taken over`);
    if (done.kind === "behind") throw new Error(`${sourceKey(source)}: position ${position} would fall behind ${done.position}`);
  }

  private async drop(deliveries: readonly Delivery[]): Promise<void> {
    for (const delivery of deliveries) {
      this.store.dropTail(delivery);
      this.deliveries.delete(delivery);
    }
    await Promise.all(deliveries.map((delivery) => delivery.stop()));
  }

  private mustBeOpen(): void {
    if (this.closed) throw new ClosedError("the log was closed");
  }
}
