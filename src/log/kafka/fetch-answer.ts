import { Cursor, FetchedRecord } from "./fetched-record.ts";

/** An answer to a fetch, version 11, in the form in which kafkajs wants it. */
export interface FetchAnswer {
  throttleTime: number;
  clientSideThrottleTime: number;
  errorCode: number;
  sessionId: number;
  responses: { topicName: string; partitions: FetchedPartition[] }[];
}

export interface FetchedPartition {
  partition: number;
  errorCode: number;
  highWatermark: string;
  lastStableOffset: string;
  abortedTransactions: { producerId: string; firstOffset: string }[];
  preferredReadReplica: number;
  messages: FetchedRecord[];
}

/** Unpacks the records of a batch, by the number of its compression; undefined where nobody can. */
export type Unpack = (codec: number) => ((bytes: Buffer) => Buffer) | undefined;

/** Batches before format 2: no broker of today keeps any, but a reader is handed what there is. */
class OldFormat extends Error {}

const FORMAT_AT = 16;
const FORMAT = 2;
const ATTRIBUTES_AT = 21;
const LAST_DELTA_AT = 23;
const BATCH_HEAD_BYTES = 61;
const CODEC_BITS = 0x7;
const BY_LOG = 0x8;
const TRANSACTIONAL = 0x10;
const CONTROL = 0x20;

/**
 * The answer's bytes as records, as Kafka's protocol says (kafka.apache.org/protocol, Fetch version 11, record batches of
 * format 2). null for an answer that holds older formats. Nothing is copied: records lie in the answer, or in what its
 * batches were unpacked to. A batch that cannot be read is one record that nobody can use. @throws RangeError for an answer
 * that is not what it says
 */
export function fetchAnswerOf(raw: Buffer, unpack: Unpack): FetchAnswer | null {
  try {
    const cursor = new Cursor(raw, 0);
    const clientSideThrottleTime = cursor.int32();
    const errorCode = cursor.int16();
    const sessionId = cursor.int32();
    const responses = each(cursor, () => ({ topicName: cursor.string(), partitions: each(cursor, () => partitionOf(cursor, unpack)) }));
    // The broker has held the answer back itself; what it says is for the next request.
    return { throttleTime: 0, clientSideThrottleTime, errorCode, sessionId, responses };
  } catch (error) {
    if (error instanceof OldFormat) return null;
    throw error;
  }
}

/** An array of the protocol; -1 long: none. */
function each<T>(cursor: Cursor, read: () => T): T[] {
  const found: T[] = [];
  for (let left = cursor.int32(); left > 0; left--) found.push(read());
  return found;
}

function partitionOf(cursor: Cursor, unpack: Unpack): FetchedPartition {
  const partition = cursor.int32();
  const errorCode = cursor.int16();
  const highWatermark = cursor.int64Text();
  const lastStableOffset = cursor.int64Text();
  // Where the log begins; nobody asks.
  cursor.int64();
  const abortedTransactions = each(cursor, () => ({ producerId: cursor.int64Text(), firstOffset: cursor.int64Text() }));
  const preferredReadReplica = cursor.int32();
  const batches = cursor.taken(cursor.int32());
  const messages: FetchedRecord[] = [];
  if (batches !== null) readBatches(batches, unpack, messages);
  return { partition, errorCode, highWatermark, lastStableOffset, abortedTransactions, preferredReadReplica, messages };
}

/** The last batch may be cut off: a fetch ends at so many bytes. */
function readBatches(bytes: Buffer, unpack: Unpack, records: FetchedRecord[]): void {
  for (let at = 0; at + FORMAT_AT < bytes.length; ) {
    if (bytes[at + FORMAT_AT] !== FORMAT) throw new OldFormat();
    if (at + BATCH_HEAD_BYTES > bytes.length) return;
    const end = at + 12 + bytes.readInt32BE(at + 8);
    if (end > bytes.length) return;
    const batch = bytes.subarray(at, end);
    const before = records.length;
    try {
      readBatch(batch, unpack, records);
    } catch {
      // Fetched again it would be the same, and a reader that gave up would stand here for ever.
      records.length = before;
      records.push(unreadable(batch));
    }
    at = end;
  }
}

/**
 * One record in place of a batch that cannot be read, at the batch's last offset, with the bytes of its records as they came:
 * whoever reads it refuses it, raw and with its place, and goes on behind it.
 */
function unreadable(bytes: Buffer): FetchedRecord {
  const { firstOffset, lastMs, batch } = headOf(bytes);
  const place = { at: firstOffset + bytes.readInt32BE(LAST_DELTA_AT), arrivedMs: lastMs };
  const value = { at: BATCH_HEAD_BYTES, length: bytes.length - BATCH_HEAD_BYTES };
  return new FetchedRecord(bytes, place, { at: 0, length: -1 }, value, { context: batch.context, isControl: false }, false);
}

/** What stands before the records of a batch. Length, leader's epoch, format and checksum have been looked at, or are not ours to. */
function headOf(bytes: Buffer) {
  const head = new Cursor(bytes, 0);
  const firstOffset = head.int64();
  head.at = ATTRIBUTES_AT;
  const attributes = head.int16();
  head.int32();
  const firstMs = head.int64();
  const lastMs = head.int64();
  const context = { producerId: head.int64Text(), inTransaction: (attributes & TRANSACTIONAL) !== 0 };
  head.at = BATCH_HEAD_BYTES - 4;
  const count = head.int32();
  return { firstOffset, attributes, firstMs, lastMs, count, batch: { context, isControl: (attributes & CONTROL) !== 0 } };
}

function readBatch(bytes: Buffer, unpack: Unpack, records: FetchedRecord[]): void {
  const { firstOffset, attributes, firstMs, lastMs, count, batch } = headOf(bytes);
  const codec = attributes & CODEC_BITS;
  const unpacked = codec === 0 ? bytes : unpackedBy(unpack(codec), bytes.subarray(BATCH_HEAD_BYTES), codec);
  const cursor = new Cursor(unpacked, codec === 0 ? BATCH_HEAD_BYTES : 0);
  const isByLog = (attributes & BY_LOG) !== 0;
  for (let left = count; left > 0; left--) {
    const next = cursor.varint() + cursor.at;
    // Attributes of a record: none are in use.
    cursor.at++;
    const sinceFirstMs = cursor.varint();
    const at = firstOffset + cursor.varint();
    const key = placeOf(cursor);
    const value = placeOf(cursor);
    if (next > unpacked.length || next < cursor.at) throw new RangeError("a record whose length is not what it holds");
    records.push(new FetchedRecord(unpacked, { at, arrivedMs: isByLog ? lastMs : firstMs + sinceFirstMs }, key, value, batch));
    cursor.at = next;
  }
}

function placeOf(cursor: Cursor): { at: number; length: number } {
  const length = cursor.varint();
  const { at } = cursor;
  cursor.at += Math.max(0, length);
  return { at, length };
}

function unpackedBy(unpack: ((bytes: Buffer) => Buffer) | undefined, bytes: Buffer, codec: number): Buffer {
  if (unpack === undefined) throw new RangeError(`a batch packed with compression ${codec}, which Kafka does not have`);
  return unpack(bytes);
}
