import type { Message, RecordMetadata, TopicMessages } from "kafkajs";
import { type NewRecord, TooLargeError } from "../log.ts";

/**
 * One send makes one record batch a partition, which the broker refuses over about 1 MB [measured], and kafkajs groups
 * messages in a time that rises with the square of their number [source]. So what is sent is cut into rounds.
 */
export const ROUND_BYTES = 512 * 1024;
export const ROUND_RECORDS = 1_000;

/** A record alone in its batch, with room for the batch's own header under the broker's usual 1,048,588 bytes. */
export const RECORD_BYTES = 1_000_000;

/** What Kafka adds to a record besides key, value and headers: lengths, deltas. */
const RECORD_OVERHEAD_BYTES = 40;

/** A record with its place on the cluster. */
export interface Placed {
  topic: string;
  partition: number;
  bytes: number;
  message: Message;
}

/** @throws TooLargeError for a record that no broker takes */
export function placed(record: NewRecord, topic: string, partition: number): Placed {
  const value = typeof record.value === "string" ? Buffer.from(record.value, "utf8") : sameBytes(record.value);
  let bytes = RECORD_OVERHEAD_BYTES + value.byteLength + Buffer.byteLength(record.key, "utf8");
  for (const [name, text] of Object.entries(record.headers ?? {})) bytes += Buffer.byteLength(name) + Buffer.byteLength(text) + 4;
  if (bytes > RECORD_BYTES) {
    throw new TooLargeError(`a record of ${bytes} bytes for ${record.topic}, key ${record.key}; the log takes ${RECORD_BYTES}`);
  }
  return { topic, partition, bytes, message: { key: record.key, value, partition, headers: record.headers ?? {} } };
}

/** Not a copy: nobody changes what is on its way. */
function sameBytes(value: Uint8Array): Buffer {
  return Buffer.isBuffer(value) ? value : Buffer.from(value.buffer, value.byteOffset, value.byteLength);
}

/** Cuts records into rounds that keep to the bounds for each partition, the order within a partition unchanged. */
export function roundsOf(records: readonly Placed[]): Placed[][] {
  const rounds: Placed[][] = [];
  let round: Placed[] = [];
  let filled = new Map<string, { bytes: number; records: number }>();
  for (const record of records) {
    const place = `${record.topic}/${record.partition}`;
    const fill = filled.get(place);
    if (fill !== undefined && (fill.bytes + record.bytes > ROUND_BYTES || fill.records === ROUND_RECORDS)) {
      rounds.push(round);
      round = [];
      filled = new Map();
    }
    const now = filled.get(place);
    if (now === undefined) filled.set(place, { bytes: record.bytes, records: 1 });
    else {
      now.bytes += record.bytes;
      now.records++;
    }
    round.push(record);
  }
  if (round.length > 0) rounds.push(round);
  return rounds;
}

export function topicMessages(round: readonly Placed[]): TopicMessages[] {
  const topics = new Map<string, Message[]>();
  for (const { topic, message } of round) {
    const messages = topics.get(topic);
    if (messages === undefined) topics.set(topic, [message]);
    else messages.push(message);
  }
  return [...topics].map(([topic, messages]) => ({ topic, messages }));
}

/**
 * Whether the broker took all of a round. kafkajs sends nothing to a partition that its knowledge of the topic happens to
 * lack, and says nothing of it [source]; a position must not be committed over that. @throws Error
 */
export function allTaken(round: readonly Placed[], taken: readonly RecordMetadata[]): void {
  const answered = new Set(taken.map(({ topicName, partition }) => `${topicName}/${partition}`));
  const left = round.find(({ topic, partition }) => !answered.has(`${topic}/${partition}`));
  if (left !== undefined) throw new Error(`what was for ${left.topic}/${left.partition} was not sent: the partition is not known yet`);
}

/**
 * Whether the broker took a round once. Where a partition's leader changes while another broker's part of the round has to be
 * repeated, kafkajs sends to the new leader what the old one has taken already, as new records [source, and seen:
 * `tests/log/kafka/sent-twice.test.ts`]; a transaction must not be committed with that in it. @throws Error
 */
export function takenOnce(taken: readonly RecordMetadata[]): void {
  const answered = new Set<string>();
  for (const { topicName, partition } of taken) {
    const place = `${topicName}/${partition}`;
    if (answered.has(place)) throw new Error(`what was for ${place} was sent twice: its leader has changed meanwhile`);
    answered.add(place);
  }
}

/** kafkajs asks a partitioner even for messages that name their partition. */
export function asPlaced() {
  return ({ message }: { message: Message }): number => message.partition ?? 0;
}
