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
const BATCH_HEAD_BYTES = 61;
const CODEC_BITS = 0x7;
const BY_LOG = 0x8;
const TRANSACTIONAL = 0x10;
const CONTROL = 0x20;

/**
 * The answer's bytes as records, as Kafka's protocol says (kafka.apache.org/protocol, Fetch version 11, record batches of
 * format 2). null for an answer that holds older formats. Nothing is copied: records lie in the answer, or in what its
 * batches were unpacked to. @throws RangeError for bytes that are not what they say
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
  for (let at = 0; at + BATCH_HEAD_BYTES <= bytes.length; ) {
    if (bytes[at + FORMAT_AT] !== FORMAT) throw new OldFormat();
    const end = at + 12 + bytes.readInt32BE(at + 8);
    if (end > bytes.length) return;
    readBatch(bytes.subarray(at, end), unpack, records);
    at = end;
  }
}

function readBatch(bytes: Buffer, unpack: Unpack, records: FetchedRecord[]): void {
  const head = new Cursor(bytes, 0);
  const firstOffset = head.int64();
  // Behind length, leader's epoch, format and checksum, which the broker has looked at.
  head.at = 21;
  const attributes = head.int16();
  head.int32();
  const firstMs = head.int64();
  const lastMs = head.int64();
  const context = { producerId: head.int64Text(), inTransaction: (attributes & TRANSACTIONAL) !== 0 };
  const batch = { context, isControl: (attributes & CONTROL) !== 0 };
  head.at = BATCH_HEAD_BYTES - 4;
  const count = head.int32();
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
    if (next > unpacked.length) throw new RangeError("a record that is longer than its batch");
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
