import type { Admin } from "kafkajs";
import type { Logger } from "../../telemetry/logger.ts";
import { type NewRecord, UnknownTopicError } from "../log.ts";
import { partitionOf } from "../partition-of.ts";
import { kafkaClient } from "./client.ts";
import { isOfType } from "./faults.ts";
import { type Placed, placed } from "./rounds.ts";
import type { KafkaSettings } from "./settings.ts";
import { atMost } from "./within.ts";

const CLOSE_WITHIN_MS = 1_000;

/** What a process asks the cluster itself: topics, partitions, extents, committed positions. One connection for all of it. */
export class Cluster {
  readonly settings: KafkaSettings;
  readonly logger: Logger;
  private readonly counts = new Map<string, number>();
  private connected: Promise<Admin> | null = null;

  constructor(settings: KafkaSettings, logger: Logger) {
    this.settings = settings;
    this.logger = logger;
  }

  /** A topic's name on the cluster. */
  nameOf(topic: string): string {
    return `${this.settings.topicPrefix}${topic}`;
  }

  admin(): Promise<Admin> {
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
    const admin = await this.admin();
    try {
      const { topics } = await admin.fetchTopicMetadata({ topics: [name] });
      const count = topics[0]?.partitions.length ?? 0;
      if (count === 0) throw noTopic(name);
      this.counts.set(topic, count);
      return count;
    } catch (error) {
      if (isOfType(error, "UNKNOWN_TOPIC_OR_PARTITION")) throw noTopic(name);
      throw error;
    }
  }

  /** First and next offset of each partition; kafkajs asks for the last stable offset, which open transactions hold back. */
  async extent(topic: string): Promise<{ partition: number; from: number; end: number }[]> {
    await this.partitions(topic);
    const admin = await this.admin();
    const offsets = await admin.fetchTopicOffsets(this.nameOf(topic));
    return offsets
      .map(({ partition, low, high }) => ({ partition, from: Number(low), end: Number(high) }))
      .sort((a, b) => a.partition - b.partition);
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

function noTopic(name: string): UnknownTopicError {
  return new UnknownTopicError(`the cluster has no topic ${name}. Create it: bearing-rise topics --config FILE --create`);
}

function noPartition(topic: string, partition: number, count: number): UnknownTopicError {
  return new UnknownTopicError(`${topic} has ${count} partitions, none with the number ${partition}`);
}
