import type { DatabaseSync, StatementSync } from "node:sqlite";
import type { Shelf } from "../delivery.ts";
import { type LogRecord, UnknownTopicError } from "../log.ts";
import type { Placed, Trimmed, Written } from "./order.ts";

/** Records handed out at once, at most, and bytes of them read from the disk: a pass of a long train is 100 kB, and nobody may wait for 500. */
const BATCH_RECORDS = 500;
const BATCH_BYTES = 1024 * 1024;
/** Bytes of the newest records of a partition kept at hand: whoever keeps up never reads the disk. */
const AT_HAND_BYTES = 2 * 1024 * 1024;

interface Partition {
  first: number;
  next: number;
  /** The newest records, without a gap up to `next`. */
  atHand: LogRecord[];
  atHandBytes: number;
}

/** What can be read of the log: committed records, the newest of them from memory. */
export class SqliteShelf implements Shelf {
  private readonly select: StatementSync;
  private readonly selectArrived: StatementSync;
  private readonly topics = new Map<string, Partition[]>();

  constructor(reading: DatabaseSync, partitions: readonly { topic: string; partition: number; first: number; next: number }[]) {
    this.select = reading.prepare(
      "SELECT offset, key, value, headers, arrived FROM record WHERE topic = ? AND partition = ? AND offset >= ? ORDER BY offset LIMIT ?",
    );
    this.selectArrived = reading.prepare("SELECT arrived FROM record WHERE topic = ? AND partition = ? AND offset = ?");
    for (const { topic, partition, first, next } of partitions) {
      const all = this.topics.get(topic) ?? [];
      all[partition] = { first, next, atHand: [], atHandBytes: 0 };
      this.topics.set(topic, all);
    }
  }

  /** @throws UnknownTopicError */
  partitions(topic: string): number {
    return this.topicOf(topic).length;
  }

  first(topic: string, partition: number): number {
    return this.at(topic, partition).first;
  }

  end(topic: string, partition: number): number {
    return this.at(topic, partition).next;
  }

  read(topic: string, partition: number, from: number): LogRecord[] {
    const { atHand } = this.at(topic, partition);
    const oldest = atHand[0]?.offset;
    if (oldest !== undefined && from >= oldest) return atHand.slice(from - oldest, from - oldest + BATCH_RECORDS);
    const records: LogRecord[] = [];
    let bytes = 0;
    for (const row of this.select.iterate(topic, partition, from, BATCH_RECORDS) as IterableIterator<Row>) {
      const { offset, key, value, headers, arrived } = row;
      records.push({ topic, partition, offset, key, value, headers: JSON.parse(headers) as Record<string, string>, arrivedMs: arrived });
      bytes += value.byteLength;
      if (bytes >= BATCH_BYTES) break;
    }
    return records;
  }

  /** Offset of the first record that came at a time or later: no record came before the one in front of it, so halving finds it. */
  offsetAt(topic: string, partition: number, timeMs: number): number {
    let { first: low, next: high } = this.at(topic, partition);
    while (low < high) {
      const middle = Math.floor((low + high) / 2);
      const row = this.selectArrived.get(topic, partition, middle) as { arrived: number } | undefined;
      // Retention may have taken it meanwhile: then all before it is older.
      if (row !== undefined && row.arrived >= timeMs) high = middle;
      else low = middle + 1;
    }
    return low;
  }

  /** @throws UnknownTopicError */
  at(topic: string, partition: number): Partition {
    const found = this.topicOf(topic)[partition];
    if (found === undefined)
      throw new UnknownTopicError(`${topic} has ${this.partitions(topic)} partitions, none with the number ${partition}`);
    return found;
  }

  /** Records that are in the log now. */
  written(records: readonly Placed[], { offsets, arrivedMs }: Written): void {
    for (const [index, { topic, partition, key, value, headers }] of records.entries()) {
      const offset = offsets[index]!;
      const place = this.at(topic, partition);
      place.next = offset + 1;
      place.atHand.push({ topic, partition, offset, key, value, headers, arrivedMs: arrivedMs[index]! });
      place.atHandBytes += value.byteLength;
      if (place.atHandBytes > AT_HAND_BYTES) forgetOldest(place);
    }
  }

  trimmed(trimmed: readonly Trimmed[]): void {
    for (const { topic, partition, first } of trimmed) this.at(topic, partition).first = first;
  }

  private topicOf(topic: string): Partition[] {
    const partitions = this.topics.get(topic);
    if (partitions === undefined)
      throw new UnknownTopicError(`the log has no topic ${topic}; it has ${[...this.topics.keys()].join(", ")}`);
    return partitions;
  }
}

interface Row {
  offset: number;
  key: string;
  value: Uint8Array;
  headers: string;
  arrived: number;
}

/** Half of it, so that it is rarely done. */
function forgetOldest(place: Partition): void {
  let count = 0;
  while (place.atHandBytes > AT_HAND_BYTES / 2 && count < place.atHand.length) place.atHandBytes -= place.atHand[count++]!.value.byteLength;
  place.atHand.splice(0, count);
}
