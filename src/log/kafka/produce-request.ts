import { PACKED_FROM_BYTES, ZSTD, zstdPacking } from "./packing.ts";
import { type BatchRecord, recordBatch } from "./record-batch.ts";

/** What kafkajs wants to send; `messages` are as they were given to it. */
export interface ProduceArguments {
  acks: number;
  timeout: number;
  transactionalId?: string | null | undefined;
  producerId?: { toString(): string } | undefined;
  producerEpoch?: number | undefined;
  compression?: number | undefined;
  topicData: { topic: string; partitions: { partition: number; firstSequence?: number | undefined; messages: BatchRecord[] }[] }[];
}

/** No producer: of a sender whose batches nobody counts. */
const NOBODY = "-1";

/**
 * The body of a request to produce, version 7 (kafka.apache.org/protocol). kafkajs's own writes each record into a buffer of
 * its own, then all of them into another, three times over, and sums them up byte by byte.
 */
export async function produceBody({ acks, timeout, transactionalId = null, compression = 0, ...rest }: ProduceArguments): Promise<Buffer> {
  const { producerId = NOBODY, producerEpoch = 0, topicData } = rest;
  const nowMs = Date.now();
  const parts: Buffer[] = [stringOf(transactionalId), int16(acks), int32(timeout), int32(topicData.length)];
  for (const { topic, partitions } of topicData) {
    parts.push(stringOf(topic), int32(partitions.length));
    for (const { partition, firstSequence = 0, messages } of partitions) {
      const writer = { producerId: BigInt(producerId.toString()), producerEpoch, firstSequence, transactional: transactionalId !== null };
      const isPacked = compression === ZSTD && valueBytes(messages) >= PACKED_FROM_BYTES;
      const batch = await recordBatch(messages, writer, nowMs, isPacked ? zstdPacking : null);
      parts.push(int32(partition), int32(batch.length), batch);
    }
  }
  return Buffer.concat(parts);
}

function valueBytes(messages: readonly BatchRecord[]): number {
  let bytes = 0;
  for (const { value } of messages) bytes += value?.length ?? 0;
  return bytes;
}

/** null is a length of -1. */
function stringOf(text: string | null): Buffer {
  if (text === null) return int16(-1);
  const bytes = Buffer.from(text, "utf8");
  return Buffer.concat([int16(bytes.length), bytes]);
}

function int16(value: number): Buffer {
  const bytes = Buffer.allocUnsafe(2);
  bytes.writeInt16BE(value);
  return bytes;
}

function int32(value: number): Buffer {
  const bytes = Buffer.allocUnsafe(4);
  bytes.writeInt32BE(value);
  return bytes;
}
