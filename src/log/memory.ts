import { Delivery, type Shelf } from "./delivery.ts";
import { Group, type Member, sourceKey } from "./group.ts";
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
  type Position,
  type Source,
  type Tail,
  type TailHandler,
  TooLargeError,
  UnknownOutcomeError,
  UnknownTopicError,
  type Worker,
} from "./log.ts";
import { partitionOf } from "./partition-of.ts";

/** Records handed out at once, at most. */
const BATCH_RECORDS = 500;

/** Bytes that may be on their way into the log at once. */
export const WAITING_BYTES = 16 * 1024 * 1024;

export interface MemoryOptions {
  partitions: ReadonlyMap<string, number>;
  /** The log's clock; a test's own. */
  now?: () => number;
  waitingBytes?: number;
  batchRecords?: number;
}

/** What a test may do to one process's calls. A real log waits where `passing` is awaited. */
export interface MemoryFaults {
  passing?(point: string): Promise<void>;
  /** What becomes of a commit or an append that goes through. */
  fate?(call: "commit" | "append"): "answered" | "done-unanswered" | "undone-unanswered";
}

interface Standing extends Position {
  epoch: number;
}

/** The log of one or several processes of a test, held in memory. `connect` gives each process its own `Log`. */
export class MemoryBroker implements Shelf {
  readonly waitingBytes: number;
  private readonly topics = new Map<string, LogRecord[][]>();
  private readonly standings = new Map<string, Standing>();
  private readonly groups = new Map<string, Group>();
  private readonly tails = new Set<Delivery>();
  private readonly now: () => number;
  private readonly batchRecords: number;

  constructor({ partitions, now = Date.now, waitingBytes = WAITING_BYTES, batchRecords = BATCH_RECORDS }: MemoryOptions) {
    for (const [topic, count] of partitions)
      this.topics.set(
        topic,
        Array.from({ length: count }, () => []),
      );
    this.now = now;
    this.waitingBytes = waitingBytes;
    this.batchRecords = batchRecords;
  }

  connect(faults: MemoryFaults = {}): MemoryLog {
    return new MemoryLog(this, faults);
  }

  partitions(topic: string): number {
    return this.topicOf(topic).length;
  }

  first(): number {
    return 0;
  }

  end(topic: string, partition: number): number {
    return this.partitionOf(topic, partition).length;
  }

  read(topic: string, partition: number, from: number): LogRecord[] {
    return this.partitionOf(topic, partition).slice(from, from + this.batchRecords);
  }

  /** All that a partition holds. */
  topic(topic: string, partition: number): LogRecord[] {
    return this.partitionOf(topic, partition);
  }

  /** Where each record goes. @throws UnknownTopicError before anything was taken */
  place(records: readonly NewRecord[]): LogRecord[] {
    return records.map(({ topic, key, value, headers = {}, partition }) => {
      const at = partition ?? partitionOf(key, this.partitions(topic));
      this.partitionOf(topic, at);
      return { topic, partition: at, offset: -1, key, value: bytesOf(value), headers: { ...headers }, arrivedMs: 0 };
    });
  }

  put(placed: readonly LogRecord[]): void {
    for (const record of placed) {
      const partition = this.partitionOf(record.topic, record.partition);
      record.offset = partition.length;
      record.arrivedMs = Math.max(this.now(), partition.at(-1)?.arrivedMs ?? 0);
      partition.push(record);
    }
    for (const { topic, partition } of placed) {
      for (const group of this.groups.values()) group.wake(topic, partition);
      for (const tail of this.tails) if (tail.topic === topic && tail.partition === partition) tail.wake();
    }
  }

  standing(source: Source): Standing {
    this.partitionOf(source.topic, source.partition);
    const key = sourceKey(source);
    let standing = this.standings.get(key);
    if (standing === undefined) {
      standing = { epoch: 0, position: 0, refoldFrom: 0 };
      this.standings.set(key, standing);
    }
    return standing;
  }

  group(stage: string, topics: readonly string[]): Group {
    let group = this.groups.get(stage);
    if (group === undefined) {
      group = new Group(stage, topics, (topic) => this.partitions(topic), this);
      this.groups.set(stage, group);
    }
    return group;
  }

  addTail(delivery: Delivery): void {
    this.tails.add(delivery);
  }

  dropTail(delivery: Delivery): void {
    this.tails.delete(delivery);
  }

  private topicOf(topic: string): LogRecord[][] {
    const partitions = this.topics.get(topic);
    if (partitions === undefined)
      throw new UnknownTopicError(`the log has no topic ${topic}; it has ${[...this.topics.keys()].join(", ")}`);
    return partitions;
  }

  private partitionOf(topic: string, partition: number): LogRecord[] {
    const partitions = this.topicOf(topic);
    const found = partitions[partition];
    if (found === undefined) throw new UnknownTopicError(`${topic} has ${partitions.length} partitions, none with the number ${partition}`);
    return found;
  }
}

/** One process's view of a MemoryBroker. */
export class MemoryLog implements Log {
  private readonly broker: MemoryBroker;
  private readonly faults: MemoryFaults;
  private readonly members: { group: Group; member: Member }[] = [];
  private readonly deliveries = new Set<Delivery>();
  private waiting = 0;
  private closed = false;
  private killed = false;

  constructor(broker: MemoryBroker, faults: MemoryFaults) {
    this.broker = broker;
    this.faults = faults;
  }

  async partitions(topic: string): Promise<number> {
    await this.pass("partitions");
    return this.broker.partitions(topic);
  }

  async extent(topic: string): Promise<{ partition: number; from: number; end: number }[]> {
    await this.pass("extent");
    return Array.from({ length: this.broker.partitions(topic) }, (_, partition) => ({
      partition,
      from: this.broker.first(),
      end: this.broker.end(topic, partition),
    }));
  }

  async offsetsAt(topic: string, timeMs: number): Promise<{ partition: number; offset: number }[]> {
    await this.pass("extent");
    return Array.from({ length: this.broker.partitions(topic) }, (_, partition) => {
      const found = this.broker.topic(topic, partition).find(({ arrivedMs }) => arrivedMs >= timeMs);
      return { partition, offset: found?.offset ?? this.broker.end(topic, partition) };
    });
  }

  async append(records: readonly NewRecord[]): Promise<void> {
    const placed = this.broker.place(records);
    const bytes = placed.reduce((sum, { value }) => sum + value.byteLength, 0);
    if (bytes > this.broker.waitingBytes) throw new TooLargeError(`${bytes} bytes at once; the log takes ${this.broker.waitingBytes}`);
    if (this.waiting + bytes > this.broker.waitingBytes) throw new OverloadedError(`${this.waiting} bytes are waiting already`);
    this.waiting += bytes;
    try {
      await this.pass("append");
      this.settle("append", () => this.broker.put(placed));
      await this.pass("appended");
    } finally {
      this.waiting -= bytes;
    }
  }

  async claim(source: Source): Promise<Claim> {
    await this.pass("claim");
    const standing = this.broker.standing(source);
    const epoch = ++standing.epoch;
    const start = { position: standing.position, refoldFrom: standing.refoldFrom };
    await this.pass("claimed");
    return { source, start, commit: (commit) => this.commit(source, epoch, commit), release: () => this.pass("release") };
  }

  async work(stage: string, topics: readonly string[], worker: Worker): Promise<Membership> {
    await this.pass("work");
    const group = this.broker.group(stage, topics);
    const member = group.join(worker, () => this.pass("hand"));
    this.members.push({ group, member });
    return member;
  }

  async tail(from: readonly { topic: string; partition: number; offset: number }[], handler: TailHandler): Promise<Tail> {
    await this.pass("tail");
    let fail: (error: Error) => void = () => {};
    const broken = new Promise<Error>((resolve) => {
      fail = resolve;
    });
    const deliveries = from.map(({ topic, partition, offset }) => {
      const hand = async (records: readonly LogRecord[], end: number) => {
        await this.pass("hand");
        await handler.records({ topic, partition, records, end });
      };
      const delivery = new Delivery(this.broker, topic, partition, hand, fail);
      this.broker.addTail(delivery);
      this.deliveries.add(delivery);
      delivery.resume(offset);
      return delivery;
    });
    return { broken, close: () => this.drop(deliveries) };
  }

  async close(): Promise<void> {
    await Promise.all(this.members.map(({ member }) => member.leave()));
    this.closed = true;
    await this.drop([...this.deliveries]);
  }

  /** The process is gone: none of its calls is ever answered. Its partitions stay with it until `bury`. */
  kill(): void {
    this.killed = true;
    for (const delivery of this.deliveries) this.broker.dropTail(delivery);
  }

  /** The broker takes this process for dead and gives its partitions to others; the process, if it lives, does not hear of it. */
  bury(): void {
    for (const { group, member } of this.members) group.remove(member, false);
  }

  /** A process taken for dead is heard of again: it loses what it still thinks it has, and is a member once more. */
  unbury(): void {
    for (const { group, member } of this.members) {
      group.remove(member);
      group.add(member);
    }
  }

  private async commit(source: Source, epoch: number, commit: Commit): Promise<void> {
    const placed = this.broker.place(commit.outputs);
    await this.pass("commit");
    const standing = this.broker.standing(source);
    if (standing.epoch !== epoch) throw new FencedError(`${sourceKey(source)} was taken over`);
    if (commit.position < standing.position) {
      throw new Error(`${sourceKey(source)}: position ${commit.position} would fall behind ${standing.position}`);
    }
    this.settle("commit", () => {
      standing.position = commit.position;
      standing.refoldFrom = commit.refoldFrom;
      this.broker.put(placed);
    });
    await this.pass("committed");
  }

  private settle(call: "commit" | "append", apply: () => void): void {
    const fate = this.faults.fate?.(call) ?? "answered";
    if (fate !== "undone-unanswered") apply();
    if (fate !== "answered") throw new UnknownOutcomeError(`the answer to ${call} was lost`);
  }

  private async drop(deliveries: readonly Delivery[]): Promise<void> {
    for (const delivery of deliveries) {
      this.broker.dropTail(delivery);
      this.deliveries.delete(delivery);
    }
    await Promise.all(deliveries.map((delivery) => delivery.stop()));
  }

  private async pass(point: string): Promise<void> {
    if (this.closed && point !== "hand") throw new ClosedError("the log was closed");
    await this.faults.passing?.(point);
    if (this.killed) await new Promise<never>(() => {});
  }
}

function bytesOf(value: Uint8Array | string): Uint8Array {
  return typeof value === "string" ? Buffer.from(value, "utf8") : Uint8Array.from(value);
}
