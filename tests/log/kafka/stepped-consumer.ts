import type { Random } from "../../../src/simulate/random.ts";

/** Whatever waits is let go one at a time, in an order drawn from a seed. Same seed, same run. */
export class Steps {
  readonly random: Random;
  private readonly waiting: (() => void)[] = [];

  constructor(random: Random) {
    this.random = random;
  }

  pass(): Promise<void> {
    return new Promise((resolve) => this.waiting.push(resolve));
  }

  /** Lets one go; false when nobody waits. */
  async letOneGo(): Promise<boolean> {
    await new Promise((resolve) => setImmediate(resolve));
    const [one] = this.waiting.splice(this.random.below(Math.max(1, this.waiting.length)), 1);
    one?.();
    return one !== undefined;
  }

  chance(odds: number): boolean {
    return this.random.unit() < odds;
  }
}

export const TOPIC = "in";
export const NODES = [1, 2] as const;
const FETCH_OFFSETS = 12;

/** What the brokers hold: one topic; every so many offsets a mark that is no record. */
export class SteppedPartitions {
  readonly ends: number[];
  readonly leaders: number[];

  constructor(count: number) {
    this.ends = Array.from({ length: count }, () => 0);
    this.leaders = this.ends.map((_, at) => NODES[at % NODES.length]!);
  }

  isMark(offset: number): boolean {
    return offset % 5 === 4 || offset % 23 === 3;
  }

  /** The first record at an offset or after it. */
  recordFrom(offset: number): number {
    let at = offset;
    while (this.isMark(at)) at++;
    return at;
  }
}

interface Message {
  offset: string;
  key: null;
  value: Buffer;
  timestamp: string;
}

interface Batch {
  topic: string;
  partition: number;
  fetchedOffset: string;
  highWatermark: string;
  messages: Message[];
  /** -1 when there is nothing, not even a mark. */
  last: number;
  first: number;
  lastOffset(): string;
}

interface Payload {
  batch: Batch;
  isRunning(): boolean;
  isStale(): boolean;
  resolveOffset(offset: string): void;
  heartbeat(): Promise<void>;
}

/** The state that kafkajs makes anew with each start. */
class GroupState {
  readonly seeks = new Map<number, number>();
  readonly paused = new Set<number>();
  resolved = new Map<number, number>();
  assigned: number[] = [];
  /** Partition -> the fetcher that has a batch of it under way. */
  readonly underWay = new Map<number, number>();
}

/**
 * kafkajs's consumer as its source has it (`consumer/consumerGroup.js`, `fetcher.js`, `runner.js`, `index.js`): a fetcher for
 * each broker, places to read from that are sought and taken up by whichever fetcher comes first, joins that make all offsets
 * new, and a crash after which it has no group for a while and whoever asks something of it is thrown at.
 */
export class SteppedConsumer {
  readonly events = { GROUP_JOIN: "join", CRASH: "crash", END_BATCH_PROCESS: "end" } as const;
  /** No more faults. */
  isCalm = false;
  private readonly steps: Steps;
  private readonly partitions: SteppedPartitions;
  private readonly listeners = new Map<string, (event: { payload: unknown }) => void>();
  private group: GroupState | null = null;
  private eachBatch: (payload: Payload) => Promise<void> = async () => {};
  private members = 0;
  private isGone = false;

  constructor(steps: Steps, partitions: SteppedPartitions) {
    this.steps = steps;
    this.partitions = partitions;
  }

  on(event: string, listener: (event: { payload: unknown }) => void): void {
    this.listeners.set(event, listener);
  }

  async connect(): Promise<void> {}
  async subscribe(): Promise<void> {}

  async disconnect(): Promise<void> {
    this.isGone = true;
  }

  async run({ eachBatch }: { eachBatch: (payload: Payload) => Promise<void> }): Promise<void> {
    this.eachBatch = eachBatch;
    void this.live();
  }

  seek({ partition, offset }: { partition: number; offset: string }): void {
    this.alive().seeks.set(partition, Number(offset));
  }

  pause([{ partitions }]: [{ partitions: number[] }]): void {
    for (const partition of partitions) this.alive().paused.add(partition);
  }

  resume([{ partitions }]: [{ partitions: number[] }]): void {
    for (const partition of partitions) this.alive().paused.delete(partition);
  }

  private alive(): GroupState {
    if (this.group === null) throw new Error("Consumer group was not initialized, consumer#run must be called first");
    return this.group;
  }

  /** Starts, fetches until it crashes, and starts again. */
  private async live(): Promise<void> {
    while (!this.isGone) {
      const group = new GroupState();
      this.group = group;
      this.members++;
      this.join(group);
      await this.fetchAll(group);
      this.group = null;
      await this.steps.pass();
      this.tell("crash", { restart: true, error: new Error("crashed") });
      await this.steps.pass();
    }
  }

  private join(group: GroupState): void {
    const all = this.partitions.ends.map((_, partition) => partition);
    group.assigned = this.isCalm ? all : all.filter(() => !this.steps.chance(0.2));
    group.resolved = new Map();
    this.tell("join", { memberId: `member-${this.members}`, memberAssignment: { [TOPIC]: group.assigned } });
  }

  /** Every broker's fetcher, until one fails: then the others are waited for, and it joins again or crashes. */
  private async fetchAll(group: GroupState): Promise<void> {
    for (;;) {
      const state = { isRunning: true };
      const ends = await Promise.allSettled(NODES.map((node) => this.fetchFrom(node, group, state)));
      if (this.isGone) return;
      const failed = ends.find((end) => end.status === "rejected")?.reason as { type?: string } | undefined;
      if (failed?.type === undefined) return;
      if (failed.type === "UNKNOWN_MEMBER_ID") this.members++;
      this.join(group);
    }
  }

  private async fetchFrom(node: number, group: GroupState, state: { isRunning: boolean }): Promise<void> {
    try {
      while (state.isRunning && !this.isGone) {
        const batches = (await this.fetch(node, group)).filter(({ partition }) => (group.underWay.get(partition) ?? node) === node);
        if (!state.isRunning) return;
        for (const { partition } of batches) group.underWay.set(partition, node);
        const handled = await Promise.allSettled(batches.map((batch) => this.handle(batch, group, state)));
        for (const { partition } of batches) group.underWay.delete(partition);
        const rejected = handled.find((one) => one.status === "rejected");
        if (rejected !== undefined) throw rejected.reason;
        if (!this.isCalm && this.steps.chance(0.01)) throw new Error("the connection is gone for good");
      }
    } finally {
      state.isRunning = false;
    }
  }

  private async fetch(node: number, group: GroupState): Promise<Batch[]> {
    // A look at the topics that shows other leaders makes it join again, and the other fetchers go on meanwhile.
    const isAmiss = this.isCalm ? group.assigned.length < this.partitions.ends.length : this.steps.chance(0.02);
    if (isAmiss) this.join(group);
    const led = group.assigned.filter((partition) => this.partitions.leaders[partition] === node);
    for (const partition of led) {
      const sought = group.seeks.get(partition);
      if (sought !== undefined) group.resolved.set(partition, sought);
      group.seeks.delete(partition);
    }
    const asked = led.filter((partition) => !group.paused.has(partition)).map((partition) => this.batch(partition, group));
    await this.steps.pass();
    return asked.filter(({ partition }) => !group.seeks.has(partition) && !group.paused.has(partition));
  }

  private batch(partition: number, group: GroupState): Batch {
    const from = group.resolved.get(partition) ?? 0;
    const high = this.partitions.ends[partition]!;
    const end = Math.min(high, from + 1 + this.steps.random.below(FETCH_OFFSETS));
    const messages: Message[] = [];
    for (let at = from; at < end; at++) {
      if (!this.partitions.isMark(at)) messages.push({ offset: String(at), key: null, value: Buffer.from(String(at)), timestamp: "0" });
    }
    const [first, last] = end > from ? [from, end - 1] : [-1, -1];
    return {
      topic: TOPIC,
      partition,
      fetchedOffset: String(from),
      highWatermark: String(high),
      messages,
      first,
      last,
      lastOffset: () => String(last >= 0 ? last : high - 1),
    };
  }

  private async handle(batch: Batch, group: GroupState, state: { isRunning: boolean }): Promise<void> {
    const { partition, messages, first, last } = batch;
    if (last < 0) return;
    const resolve = (offset: number) => group.resolved.set(partition, offset + 1);
    if (messages.length === 0) resolve(last);
    else {
      await this.eachBatch({
        batch,
        isRunning: () => state.isRunning && !this.isGone,
        isStale: () => group.seeks.has(partition),
        resolveOffset: (offset) => resolve(offset === messages.at(-1)!.offset ? last : Number(offset)),
        heartbeat: async () => {
          await this.steps.pass();
          if (this.isCalm || !this.steps.chance(0.02)) return;
          throw Object.assign(new Error("lost"), { type: this.steps.chance(0.5) ? "UNKNOWN_MEMBER_ID" : "REBALANCE_IN_PROGRESS" });
        },
      });
    }
    this.tell("end", { topic: TOPIC, partition, batchSize: messages.length, firstOffset: String(first), lastOffset: String(last) });
  }

  private tell(event: string, payload: unknown): void {
    this.listeners.get(event)?.({ payload });
  }
}
