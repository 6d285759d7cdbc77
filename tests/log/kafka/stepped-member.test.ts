import { describe, expect, it, vi } from "vitest";
import type { Cluster } from "../../../src/log/kafka/cluster.ts";
import { KafkaMember } from "../../../src/log/kafka/kafka-member.ts";
import { MemberName } from "../../../src/log/kafka/member-name.ts";
import type { Batch, Source, Worker } from "../../../src/log/log.ts";
import { Random } from "../../../src/simulate/random.ts";
import { silentLogger } from "../../../src/telemetry/logger.ts";
import { NODES, SteppedConsumer, SteppedPartitions, Steps, TOPIC } from "./stepped-consumer.ts";

const world: { consumer: SteppedConsumer | null } = vi.hoisted(() => ({ consumer: null }));
vi.mock("../../../src/log/kafka/client.ts", () => ({ kafkaClient: () => ({ consumer: () => world.consumer }) }));

const SEEDS = Number(process.env["SEEDS"] ?? 400);
const ONE = process.env["SEED"];
const STAGE = "fold";
const PARTITIONS = 2;
const LAST_OFFSET = 150;
const FAULTY_STEPS = 600;
const MOST_STEPS = 20_000;

/** What a reader knows of a partition that is its own; made anew with every beginning. */
interface Place {
  /** Offset of what it reads next. */
  next: number;
  /** Everything below was handed to it, as it was told. */
  handed: number;
  isHeld: boolean;
  /** Something was read and not committed yet, so that a commit can fail. */
  isDirty: boolean;
}

/** Reads as a task does: goes back, holds, and begins anew. */
class Reader implements Worker {
  readonly wrong: string[] = [];
  readonly places = new Map<number, Place>();
  isCalm = false;
  turns = 0;
  member: KafkaMember | null = null;
  private readonly steps: Steps;
  private readonly partitions: SteppedPartitions;

  constructor(steps: Steps, partitions: SteppedPartitions) {
    this.steps = steps;
    this.partitions = partitions;
  }

  async assigned({ partition }: Source, signal: AbortSignal): Promise<number> {
    await this.steps.pass();
    if (signal.aborted) return 0;
    return this.begin(partition, this.steps.random.below(this.partitions.ends[partition]! + 1), false);
  }

  async records(source: Source, batch: Batch): Promise<void> {
    const place = this.places.get(source.partition);
    if (place === undefined || place.isHeld) return;
    // A task notices that and begins again; here retention takes nothing, so it must never be.
    if (batch.from! > place.handed) this.wrong.push(`${source.partition}: from ${batch.from} on where ${place.handed} was next`);
    for (const { offset } of batch.records) {
      if (offset >= place.next) this.take(source.partition, place, offset);
      if (this.steps.chance(0.05)) await batch.heartbeat();
      if (batch.stale || place.isHeld || this.places.get(source.partition) !== place) return;
      if (!this.isCalm && this.steps.chance(0.03)) return this.sendBack(source, place.next, true);
    }
    place.handed = Math.max(place.handed, batch.through ?? place.next);
  }

  async revoked({ partition }: Source): Promise<void> {
    this.places.delete(partition);
  }

  /** A commit under way comes to nothing: at any moment, also while the partition is held. */
  commitFails(partition: number): void {
    const place = this.places.get(partition);
    if (place === undefined || !place.isDirty) return;
    this.sendBack({ stage: STAGE, topic: TOPIC, partition }, Math.max(0, place.next - this.steps.random.below(30)), false);
  }

  private take(partition: number, place: Place, offset: number): void {
    const wanted = this.partitions.recordFrom(place.next);
    if (offset !== wanted) this.wrong.push(`${partition}: ${offset} came where ${wanted} was next`);
    place.next = offset + 1;
    place.isDirty = true;
  }

  private begin(partition: number, from: number, isDirty: boolean): number {
    this.turns++;
    this.places.set(partition, { next: from, handed: from, isHeld: false, isDirty });
    return from;
  }

  /** Holds the partition, and goes on from an offset a while later. */
  private sendBack(source: Source, from: number, isDirty: boolean): void {
    const { partition } = source;
    const held = { next: from, handed: from, isHeld: true, isDirty };
    this.places.set(partition, held);
    this.member!.pause(source);
    void this.steps.pass().then(() => {
      if (this.places.get(partition) === held) this.member!.resume(source, this.begin(partition, from, isDirty));
    });
  }
}

async function steppedRun(seed: number): Promise<{ wrong: string[]; turns: number }> {
  const steps = new Steps(new Random(seed, "member"));
  const partitions = new SteppedPartitions(PARTITIONS);
  const consumer = new SteppedConsumer(steps, partitions);
  world.consumer = consumer;
  const reader = new Reader(steps, partitions);
  const cluster = {
    logger: silentLogger(),
    settings: {},
    nameOf: (topic: string) => topic,
    partitions: async () => PARTITIONS,
    // Answers come late, and overtake each other.
    extent: async () => {
      await steps.pass();
      return partitions.ends.map((end, partition) => ({ partition, from: 0, end }));
    },
  } as unknown as Cluster;
  const joining = { group: "g", stage: STAGE, topics: [TOPIC], name: new MemberName(undefined, "g") };
  const member = new KafkaMember(cluster, joining, reader);
  reader.member = member;
  let broken: Error | null = null;
  void member.broken.then((error) => {
    broken = error;
  });
  const isDone = () => partitions.ends.every((end, partition) => partitions.recordFrom(reader.places.get(partition)?.next ?? 0) >= end);
  await member.start();
  for (let step = 0; reader.wrong.length === 0 && broken === null; step++) {
    if (step === FAULTY_STEPS) {
      consumer.isCalm = true;
      reader.isCalm = true;
    }
    for (const [partition, end] of partitions.ends.entries()) {
      if (end < LAST_OFFSET && steps.chance(0.3)) partitions.ends[partition]!++;
      if (step < FAULTY_STEPS && steps.chance(0.2)) partitions.leaders[partition] = steps.random.pick(NODES);
      if (step < FAULTY_STEPS && steps.chance(0.02)) reader.commitFails(partition);
    }
    if (step > FAULTY_STEPS && partitions.ends.every((end) => end >= LAST_OFFSET) && isDone()) break;
    if (step > MOST_STEPS)
      reader.wrong.push(
        `stands at ${[...reader.places.values()].map(({ next }) => next).join(" and ")} of ${partitions.ends.join(" and ")}`,
      );
    await steps.letOneGo();
  }
  if (broken !== null) reader.wrong.push(`broken: ${(broken as Error).message}`);
  await member.leave();
  return { wrong: reader.wrong, turns: reader.turns };
}

describe("a member over a consumer that joins anew, crashes, and whose partitions change their leader", () => {
  it("hands out every record from where it was told to begin, in order, whatever overtakes what", { timeout: 600_000 }, async () => {
    const failed: string[] = [];
    let turns = 0;
    for (let seed = 1; seed <= SEEDS && failed.length < 5; seed++) {
      if (ONE !== undefined && Number(ONE) !== seed) continue;
      const run = await steppedRun(seed);
      turns += run.turns;
      if (run.wrong.length > 0) failed.push(`seed ${seed}: ${run.wrong[0]}`);
    }
    expect(failed).toEqual([]);
    // Or it would prove nothing.
    if (ONE === undefined) expect(turns).toBeGreaterThan(SEEDS * 10);
  });
});
