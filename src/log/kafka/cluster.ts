import { setTimeout as sleep } from "node:timers/promises";
import type { Admin } from "kafkajs";
import type { Logger } from "../../telemetry/logger.ts";
import { ClosedError, type NewRecord, UnknownTopicError, UnreachableError } from "../log.ts";
import { partitionOf } from "../partition-of.ts";
import { kafkaClient } from "./client.ts";
import { isFinal, isOfType, wordsOf } from "./faults.ts";
import { type Placed, placed } from "./rounds.ts";
import type { KafkaSettings } from "./settings.ts";
import { atMost } from "./within.ts";

const CLOSE_WITHIN_MS = 1_000;
const ASK_WITHIN_MS = 10_000;
const ASK_PAUSE_MS = 20;
const ASK_PAUSE_MAX_MS = 500;

/** What a process asks the cluster itself: topics, partitions, extents, committed positions. One connection for all of it. */
export class Cluster {
  readonly settings: KafkaSettings;
  readonly logger: Logger;
  private readonly counts = new Map<string, number>();
  private connected: Promise<Admin> | null = null;
  private closed = false;

  constructor(settings: KafkaSettings, logger: Logger) {
    this.settings = settings;
    this.logger = logger;
  }

  /** A topic's name on the cluster. */
  nameOf(topic: string): string {
    return `${this.settings.topicPrefix}${topic}`;
  }

  /**
   * One question to the cluster, asked again for a while when it cannot be answered: a broker just started loads its groups
   * first, and kafkajs's admin asks only once for committed offsets [source]. @throws UnreachableError when it is not answered in time
   */
  async ask<T>(what: string, question: (admin: Admin) => Promise<T>): Promise<T> {
    const deadlineMs = performance.now() + ASK_WITHIN_MS;
    for (let pauseMs = ASK_PAUSE_MS; ; pauseMs = Math.min(pauseMs * 2, ASK_PAUSE_MAX_MS)) {
      try {
        return await question(await this.admin());
      } catch (error) {
        if (this.closed || isFinal(error) || performance.now() + pauseMs > deadlineMs) {
          throw new UnreachableError(this.silence(what, error), { cause: error });
        }
        await sleep(pauseMs);
      }
    }
  }

  private silence(what: string, error: unknown): string {
    const { brokers } = this.settings;
    const advice = isFinal(error)
      ? "Compare user, password and what the user may do with deploy/kafka-acls.md."
      : "Are these brokers running and reached from this machine, and do TLS and sign-in suit them (log.kafka)?";
    return `the cluster at ${brokers.join(", ")} did not say ${what}: ${wordsOf(error)}. ${advice}`;
  }

  private admin(): Promise<Admin> {
    if (this.closed) throw new ClosedError("the log was closed");
    this.connected ??= this.connect();
    return this.connected;
  }

  /**
   * Partitions of a topic, asked once: a topic that gets more while we run is seen after a restart, which is when it may,
   * since more partitions move keys.
   * @throws UnknownTopicError
   */
  async partitions(topic: string): Promise<number> {
    const known = this.counts.get(topic);
    if (known !== undefined) return known;
    const name = this.nameOf(topic);
    const count = await this.ask(`the partitions of ${name}`, async (admin) => {
      try {
        const { topics } = await admin.fetchTopicMetadata({ topics: [name] });
        return topics[0]?.partitions.length ?? 0;
      } catch (error) {
        if (isOfType(error, "UNKNOWN_TOPIC_OR_PARTITION")) return 0;
        throw error;
      }
    });
    if (count === 0) throw noTopic(name);
    this.counts.set(topic, count);
    return count;
  }

  /** First and next offset of each partition; kafkajs asks for the last stable offset, which open transactions hold back. */
  async extent(topic: string): Promise<{ partition: number; from: number; end: number }[]> {
    const count = await this.partitions(topic);
    const offsets = await this.ask(`the extent of ${topic}`, async (admin) =>
      whole(await admin.fetchTopicOffsets(this.nameOf(topic)), count),
    );
    return offsets
      .map(({ partition, low, high }) => ({ partition, from: Number(low), end: Number(high) }))
      .sort((a, b) => a.partition - b.partition);
  }

  /** Offset of the first record at a time or later by the log's clock; where there is none, the next one to come. */
  async offsetsAt(topic: string, timeMs: number): Promise<{ partition: number; offset: number }[]> {
    const count = await this.partitions(topic);
    const fromMs = Math.max(0, Math.ceil(timeMs));
    const offsets = await this.ask(`what of ${topic} came when`, async (admin) =>
      whole(await admin.fetchTopicOffsetsByTimestamp(this.nameOf(topic), fromMs), count),
    );
    return offsets.map(({ partition, offset }) => ({ partition, offset: Number(offset) })).sort((a, b) => a.partition - b.partition);
  }

  /** Where each record goes. @throws UnknownTopicError, TooLargeError before anything was sent */
  async place(records: readonly NewRecord[]): Promise<Placed[]> {
    for (const topic of new Set(records.map((record) => record.topic))) await this.partitions(topic);
    return records.map((record) => {
      const count = this.counts.get(record.topic)!;
      const partition = record.partition ?? partitionOf(record.key, count);
      if (partition < 0 || partition >= count) throw noPartition(record.topic, partition, count);
      return placed(record, this.nameOf(record.topic), partition);
    });
  }

  /** @throws UnknownTopicError */
  async check(topic: string, partition: number): Promise<void> {
    const count = await this.partitions(topic);
    if (partition < 0 || partition >= count) throw noPartition(topic, partition, count);
  }

  async close(): Promise<void> {
    this.closed = true;
    const { connected } = this;
    this.connected = null;
    if (connected !== null)
      await atMost(
        CLOSE_WITHIN_MS,
        connected.then((admin) => admin.disconnect()),
      );
  }

  private async connect(): Promise<Admin> {
    try {
      const admin = kafkaClient(this.settings, this.logger, "admin").admin();
      await admin.connect();
      return admin;
    } catch (error) {
      this.connected = null;
      throw error;
    }
  }
}

/**
 * An answer about all partitions of a topic. kafkajs shares one look at the topics among all who ask: who asks about another
 * topic meanwhile is told of no partitions, as if there were none, and without an error [source, and seen]. @throws Error then: to be asked again
 */
export function whole<T>(partitions: readonly T[], count: number): readonly T[] {
  if (partitions.length < count) throw new Error(`${partitions.length} of ${count} partitions were told of`);
  return partitions;
}

function noTopic(name: string): UnknownTopicError {
  return new UnknownTopicError(`the cluster has no topic ${name}. Create it: bearing-rise topics --config FILE --create`);
}

function noPartition(topic: string, partition: number, count: number): UnknownTopicError {
  return new UnknownTopicError(`${topic} has ${count} partitions, none with the number ${partition}`);
}
