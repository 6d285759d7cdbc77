import { setTimeout as sleep } from "node:timers/promises";
import type { Consumer, ConsumerCrashEvent, ConsumerEndBatchProcessEvent, ConsumerGroupJoinEvent, EachBatchPayload } from "kafkajs";
import type { LogRecord, Membership, Source, Worker } from "../log.ts";
import { keepingAssigner } from "./assigner.ts";
import { kafkaClient } from "./client.ts";
import type { Cluster } from "./cluster.ts";
import { batchOf, fetchedFrom, Lost } from "./handed-batch.ts";
import { KafkaRecord, offsetOf } from "./kafka-record.ts";
import type { MemberName } from "./member-name.ts";
import { joinAs } from "./remedies.ts";
import { Seat, seatKey } from "./seat.ts";
import { FETCH_WAIT_MS, HEARTBEAT_MS, REBALANCE_TIMEOUT_MS, RETRY } from "./settings.ts";
import { Sockets } from "./sockets.ts";
import { atMost } from "./within.ts";

/** Records handed to a worker at once: what it does with them must fit between two heartbeats by far. */
export const BATCH_RECORDS = 1_000;

/** One fetch: of one partition, and of all of them. */
const PARTITION_BYTES = 1024 * 1024;
const FETCH_BYTES = 8 * 1024 * 1024;

/** Partitions whose batches are under way at once; one that waits for its commit must not hold up the others of a fetch. */
const PARTITIONS_AT_ONCE = 64;

const LEAVE_WITHIN_MS = 2_500;
const ASSIGN_PAUSE_MS = 250;
const ASSIGN_PAUSE_MAX_MS = 4_000;

/** The watchdog's looks, and how many of them without progress mean that the consumer is stuck. */
const LOOK_EVERY_MS = 5_000;
const STALLED_LOOKS = 6;

/** Fenced, and the partition still ours after this: nobody took it over, the broker only ended a transaction that was late. */
const FENCED_AGAIN_MS = 2_000;

/** How a member joins: a stage's members, or a tail's throw-away group. */
export interface Joining {
  group: string;
  stage: string;
  topics: readonly string[];
  /** How it was called before it died, and where its name now is left. */
  name: MemberName;
  /** For tests of the watchdog. */
  lookEveryMs?: number | undefined;
}

/**
 * A member of a consumer group. kafkajs says who has which partition and brings the records; where to read from is always
 * said by us (`seek`), and whether what is done with the records counts is decided by the claim's fence. What kafkajs
 * needs (`#n` of its issues) is met here:
 *  - #1046, no word of a partition taken away: what is left out of the next GROUP_JOIN was. It is emitted before
 *    the first fetch, so new partitions are paused there until their worker knows where to start.
 *  - after each join all partitions start anew from the group's committed offsets: those kept are sought back to their place.
 *  - #945, a throw from `eachBatch` restarts every partition of the broker: nothing but a rebalance is thrown.
 *  - #1513, #1721, a crash with `restart: false` leaves a dead consumer: `broken` settles.
 *  - no number, a fetch from before a `seek` is dropped only while no other broker's fetcher has taken the seek up: where a
 *    leader changes at that moment, records before that fetch would be passed over. Nothing is handed out behind a gap.
 *  - #1456, a member that holds a partition and reads nothing: the watchdog begins anew with it, the second time `broken` settles.
 */
export class KafkaMember implements Membership {
  readonly broken: Promise<Error>;
  private readonly cluster: Cluster;
  private readonly joining: Joining;
  private readonly worker: Worker;
  private readonly seats = new Map<string, Seat>();
  private readonly topicOf: ReadonlyMap<string, string>;
  private consumer: Consumer | null = null;
  private sockets = new Sockets();
  private memberId: string | null = null;
  private leaving = false;
  private restarts = 0;
  private looking = false;
  private watch: NodeJS.Timeout | null = null;
  private fail: (error: Error) => void = () => {};

  constructor(cluster: Cluster, joining: Joining, worker: Worker) {
    this.cluster = cluster;
    this.joining = joining;
    this.worker = worker;
    this.topicOf = new Map(joining.topics.map((topic) => [cluster.nameOf(topic), topic]));
    this.broken = new Promise((resolve) => {
      this.fail = (error) => {
        if (!this.leaving) cluster.logger.error("member-broken", error.message, { group: joining.group, error });
        resolve(error);
      };
    });
  }

  async start(): Promise<void> {
    for (const topic of this.joining.topics) await this.cluster.partitions(topic);
    await this.run(await this.joining.name.former());
    this.watch = setInterval(() => void this.look(), this.joining.lookEveryMs ?? LOOK_EVERY_MS);
    this.watch.unref();
  }

  pause(source: Source): void {
    const seat = this.seats.get(seatKey(source.topic, source.partition));
    if (seat === undefined || seat.state === "claiming") return;
    seat.hold();
    this.hold(source);
  }

  resume(source: Source, from: number): void {
    const seat = this.seats.get(seatKey(source.topic, source.partition));
    if (seat === undefined || seat.state === "claiming") return;
    seat.hold();
    void this.read(seat, from);
  }

  async leave(): Promise<void> {
    if (this.leaving) return;
    this.leaving = true;
    if (this.watch !== null) clearInterval(this.watch);
    const revoked = [...this.seats.values()].map((seat) => this.take(seat));
    await this.giveUpConsumer();
    await Promise.all(revoked);
    await this.joining.name.forget();
    this.cluster.logger.info("member-left", `left ${this.joining.group}`, { group: this.joining.group });
  }

  /** How often the watchdog had to begin anew. */
  get restartCount(): number {
    return this.restarts;
  }

  /** A claim of ours found itself fenced. If the partition is still ours after a while, it is begun anew. */
  fenced(source: Source): void {
    const seat = this.seats.get(seatKey(source.topic, source.partition));
    if (seat === undefined) return;
    void sleep(FENCED_AGAIN_MS, undefined, { ref: false }).then(async () => {
      if (seat.stale || this.leaving) return;
      this.hold(source);
      await this.take(seat);
      this.give(source);
    });
  }

  private async run(former: string | null): Promise<void> {
    const { settings, logger } = this.cluster;
    const { group } = this.joining;
    const owned = () =>
      [...this.seats.values()].map(({ source }) => ({ topic: this.cluster.nameOf(source.topic), partition: source.partition }));
    const sockets = new Sockets(settings.socketFactory);
    this.sockets = sockets;
    const consumer = kafkaClient(settings, logger, group, sockets).consumer({
      groupId: group,
      partitionAssigners: [
        keepingAssigner(owned, (cluster) => {
          if (former !== null) joinAs(cluster, former);
        }),
      ],
      sessionTimeout: settings.sessionTimeoutMs,
      rebalanceTimeout: REBALANCE_TIMEOUT_MS,
      heartbeatInterval: HEARTBEAT_MS,
      maxWaitTimeInMs: FETCH_WAIT_MS,
      maxBytesPerPartition: PARTITION_BYTES,
      maxBytes: FETCH_BYTES,
      allowAutoTopicCreation: false,
      readUncommitted: false,
      retry: { ...RETRY, restartOnFailure: async () => !sockets.hungUp },
    });
    this.consumer = consumer;
    const { GROUP_JOIN, CRASH, END_BATCH_PROCESS } = consumer.events;
    consumer.on(GROUP_JOIN, (event) => this.joined(consumer, event));
    consumer.on(CRASH, (event) => this.crashed(consumer, event));
    consumer.on(END_BATCH_PROCESS, (event) => this.fetched(event));
    await consumer.connect();
    await consumer.subscribe({ topics: [...this.topicOf.keys()], fromBeginning: true });
    await consumer.run({
      autoCommit: false,
      eachBatchAutoResolve: false,
      partitionsConsumedConcurrently: PARTITIONS_AT_ONCE,
      eachBatch: (payload) => this.deliver(payload),
    });
  }

  /** The members have shared the partitions. Under a new name we were out of the group meanwhile: nothing is still ours. */
  private joined(consumer: Consumer, { payload }: ConsumerGroupJoinEvent): void {
    if (this.leaving || consumer !== this.consumer) return;
    const outMeanwhile = this.memberId !== null && this.memberId !== payload.memberId;
    this.memberId = payload.memberId;
    void this.joining.name.leave(payload.memberId).catch((error: unknown) => {
      this.cluster.logger.warn("log-failed", "the member's name could not be written; a restart will wait for the session time-out", {
        error,
      });
    });
    const sources = Object.entries(payload.memberAssignment).flatMap(([name, partitions]) => {
      const topic = this.topicOf.get(name);
      return topic === undefined ? [] : partitions.map((partition) => ({ stage: this.joining.stage, topic, partition }) satisfies Source);
    });
    const ours = new Set(sources.map(({ topic, partition }) => seatKey(topic, partition)));
    for (const [key, seat] of this.seats) if (outMeanwhile || !ours.has(key)) void this.take(seat);
    for (const source of sources) {
      const seat = this.seats.get(seatKey(source.topic, source.partition));
      if (seat === undefined) this.give(source);
      else if (seat.state === "reading") this.seek(seat.source, seat.next);
      else this.hold(source);
    }
    this.cluster.logger.info("member-joined", `${sources.length} partitions of ${this.joining.group}`, { group: this.joining.group });
  }

  private give(source: Source): void {
    const seat = new Seat(source);
    this.seats.set(seatKey(source.topic, source.partition), seat);
    this.hold(source);
    void this.begin(seat);
  }

  private async take(seat: Seat): Promise<void> {
    const { source } = seat;
    const key = seatKey(source.topic, source.partition);
    if (this.seats.get(key) === seat) this.seats.delete(key);
    if (seat.stale) return;
    seat.taken.abort();
    await this.worker.revoked(source).catch((error: unknown) => this.fail(asError(error)));
  }

  /** Asks the worker where to read from. A broker that is away is waited for; the partition stays paused. */
  private async begin(seat: Seat): Promise<void> {
    let pause = ASSIGN_PAUSE_MS;
    while (!seat.stale) {
      try {
        const from = await this.worker.assigned(seat.source, seat.taken.signal);
        if (!seat.stale) await this.read(seat, from);
        return;
      } catch (error) {
        if (seat.stale) return;
        this.cluster.logger.warn("log-failed", `${seatKey(seat.source.topic, seat.source.partition)} could not be begun yet`, { error });
        await sleep(pause);
        pause = Math.min(pause * 2, ASSIGN_PAUSE_MAX_MS);
      }
    }
  }

  /**
   * From the offset on; where retention took it, from the oldest there is. Asked before, because kafkajs meets an offset out
   * of range by committing "earliest" to the group. Whoever asked later, or held the partition meanwhile, is the one who counts.
   * `wasRead`: all before was read by this process; a log that ends before that holds other records under the same offsets.
   */
  private async read(seat: Seat, from: number, wasRead = false): Promise<void> {
    const { topic, partition } = seat.source;
    const { wish } = seat;
    let at = from;
    try {
      const extent = (await this.cluster.extent(topic))[partition]!;
      if (wasRead && extent.end < from && !seat.stale && seat.wish === wish) {
        const words = `${topic}/${partition} ends at ${extent.end}, before what was read, up to ${from}`;
        this.fail(new Error(`${words}: the topic was made anew, or its brokers lost records`));
        return;
      }
      at = Math.min(Math.max(from, extent.from), Math.max(extent.end, extent.from));
      if (at !== from) {
        const facts = { topic, partition, asked: from, from: extent.from, end: extent.end };
        this.cluster.logger.error("log-trimmed", "the records from the position on are not in the log any more", facts);
      }
    } catch (error) {
      this.cluster.logger.warn("log-failed", "where the partition begins and ends could not be asked", { error });
    }
    if (seat.stale || seat.wish !== wish) return;
    seat.readFrom(at, from);
    this.seek(seat.source, at);
    this.toldWhileRunning((consumer) => consumer.resume([{ topic: this.cluster.nameOf(topic), partitions: [partition] }]));
  }

  private seek({ topic, partition }: Source, offset: number): void {
    this.toldWhileRunning((consumer) => consumer.seek({ topic: this.cluster.nameOf(topic), partition, offset: String(offset) }));
  }

  private hold({ topic, partition }: Source): void {
    this.toldWhileRunning((consumer) => consumer.pause([{ topic: this.cluster.nameOf(topic), partitions: [partition] }]));
  }

  /**
   * Between a crash of its own and its next start a consumer throws at whoever tells it something [source]. Nothing is lost
   * by that: it comes back knowing nothing, and is told everything when it has joined.
   */
  private toldWhileRunning(tell: (consumer: Consumer) => void): void {
    if (this.consumer === null) return;
    try {
      tell(this.consumer);
    } catch (error) {
      this.cluster.logger.debug("broker-lost", "the consumer is not running just now", { group: this.joining.group, error });
    }
  }

  private async deliver(payload: EachBatchPayload): Promise<void> {
    const { batch } = payload;
    const topic = this.topicOf.get(batch.topic);
    const seat = topic === undefined ? undefined : this.seats.get(seatKey(topic, batch.partition));
    if (seat === undefined || seat.state !== "reading") return;
    const high = Number(batch.highWatermark);
    if (fetchedFrom(batch) > seat.seen || high < seat.next) {
      // Whatever led there, nothing may be passed over: from where it stands again, or from the oldest there is.
      seat.hold();
      void this.read(seat, seat.next, true);
      return;
    }
    const lost = new Lost();
    // After the last committed record come control records; a reader that has all of them is not behind.
    const end = Number(batch.lastOffset()) + 1 >= high ? null : high;
    const { turn } = seat;
    const { messages } = batch;
    const going = () => payload.isRunning() && !payload.isStale() && !seat.stale && seat.turn === turn && seat.state === "reading";
    seat.busy = true;
    try {
      for (let at = 0; at < messages.length && going() && lost.error === null; at += BATCH_RECORDS) {
        const records: LogRecord[] = [];
        for (let index = at; index < Math.min(at + BATCH_RECORDS, messages.length); index++) {
          const message = messages[index]!;
          const offset = offsetOf(message);
          if (offset >= seat.next) records.push(new KafkaRecord(seat.source.topic, seat.source.partition, offset, message));
        }
        const last = records.at(-1);
        // With the last of the messages the marks after them are read too.
        const through = at + BATCH_RECORDS >= messages.length ? Number(batch.lastOffset()) + 1 : undefined;
        const reach = { from: seat.handed, end: end ?? Number(messages.at(-1)!.offset) + 1, through };
        if (last !== undefined) await this.worker.records(seat.source, batchOf(records, reach, seat, lost, payload));
        // Taken or sent elsewhere meanwhile: what is read next was said by others.
        if (seat.stale || seat.turn !== turn) return;
        if (last !== undefined) seat.next = last.offset + 1;
        if (last !== undefined) seat.handed = through ?? seat.next;
        seat.seen = Math.max(seat.seen, through ?? seat.next);
        payload.resolveOffset(messages[Math.min(at + BATCH_RECORDS, messages.length) - 1]!.offset);
      }
    } catch (error) {
      // A worker that throws has a fault of its own, not of the data.
      this.fail(asError(error));
      this.hold(seat.source);
    } finally {
      seat.busy = false;
    }
    if (lost.error !== null) throw lost.error;
  }

  /** A batch without a record for us is not delivered; kafkajs only tells that it has gone on behind its marks. */
  private fetched({ payload }: ConsumerEndBatchProcessEvent): void {
    const topic = this.topicOf.get(payload.topic);
    const seat = topic === undefined ? undefined : this.seats.get(seatKey(topic, payload.partition));
    if (seat === undefined || seat.state !== "reading" || payload.batchSize > 0) return;
    if (Number(payload.firstOffset) <= seat.seen) seat.seen = Math.max(seat.seen, Number(payload.lastOffset) + 1);
  }

  private crashed(consumer: Consumer, { payload }: ConsumerCrashEvent): void {
    if (this.leaving || consumer !== this.consumer || payload.restart) return;
    this.fail(new Error(`the consumer of ${this.joining.group} crashed for good: ${payload.error.message}`, { cause: payload.error }));
  }

  /** Is any partition held and not read though it has more? While the cluster does not answer nobody can tell. */
  private async look(): Promise<void> {
    if (this.looking) return;
    this.looking = true;
    try {
      const reading = [...this.seats.values()].filter((seat) => seat.state === "reading" && !seat.busy);
      for (const topic of new Set(reading.map(({ source }) => source.topic))) {
        const extents = await this.cluster.extent(topic);
        for (const seat of reading) if (seat.source.topic === topic) seat.look(extents[seat.source.partition]?.end ?? 0, performance.now());
      }
    } catch {
      for (const seat of this.seats.values()) seat.stuckSinceMs = null;
    } finally {
      this.looking = false;
    }
    const patienceMs = STALLED_LOOKS * (this.joining.lookEveryMs ?? LOOK_EVERY_MS);
    const stuck = [...this.seats.values()].find(
      ({ stuckSinceMs }) => stuckSinceMs !== null && performance.now() - stuckSinceMs >= patienceMs,
    );
    if (stuck !== undefined && !this.leaving) await this.restart(stuck);
  }

  /** Disconnects it, well if that can be done soon, else anyhow. */
  private async giveUpConsumer(): Promise<void> {
    const { consumer, sockets } = this;
    this.consumer = null;
    if (consumer !== null) await atMost(LEAVE_WITHIN_MS, consumer.disconnect());
    sockets.hangUp();
  }

  private async restart(stuck: Seat): Promise<void> {
    const words = `${seatKey(stuck.source.topic, stuck.source.partition)} is held and has more records, and none is read`;
    if (this.restarts++ > 0) {
      this.fail(new Error(`${words}, a second time`));
      return;
    }
    this.cluster.logger.warn("task-stalled", `${words}: the consumer begins anew`, { group: this.joining.group });
    const { memberId } = this;
    for (const seat of this.seats.values()) seat.stuckSinceMs = null;
    await this.giveUpConsumer();
    if (!this.leaving) await this.run(memberId).catch((error: unknown) => this.fail(asError(error)));
  }
}

function asError(error: unknown): Error {
  return error instanceof Error ? error : new Error(String(error));
}
