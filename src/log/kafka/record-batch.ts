import { crc32c } from "./crc32c.ts";

/** A record on its way into a batch. */
export interface BatchRecord {
  key: Buffer | string | null;
  value: Buffer | null;
  headers?: Readonly<Record<string, Buffer | string>> | undefined;
}

/** Who writes the batch; -1 where nobody asks. */
export interface Writer {
  producerId: bigint;
  producerEpoch: number;
  firstSequence: number;
  transactional: boolean;
}

/** Packs the records of a batch; null: they go as they are. */
export interface Packing {
  codec: number;
  pack(bytes: Buffer): Promise<Buffer>;
}

const HEAD_BYTES = 61;
const FORMAT = 2;
const TRANSACTIONAL = 0x10;
/** A record without key, value and headers: its length, attributes, three numbers, two lengths, a count. */
const RECORD_BYTES = 40;
const HEADER_BYTES = 10;
/** So much room is kept for the next batch: as a round has (`rounds.ts`), and a large record. */
const MOST_SPARE_BYTES = 2 * 1024 * 1024;

/**
 * Records as one batch of format 2 (kafka.apache.org/documentation/#recordbatch), in one piece of memory. All get the time
 * `nowMs`; where the topic goes by the log's own time the broker sets its own.
 */
export async function recordBatch(
  records: readonly BatchRecord[],
  writer: Writer,
  nowMs: number,
  packing: Packing | null,
): Promise<Buffer> {
  if (packing === null) {
    const room = Buffer.allocUnsafe(HEAD_BYTES + mostBytes(records));
    return headed(room.subarray(0, writeAll(records, room, HEAD_BYTES)), records.length, writer, nowMs, 0);
  }
  const packed = await packedRecords(records, packing);
  const batch = Buffer.allocUnsafe(HEAD_BYTES + packed.length);
  packed.copy(batch, HEAD_BYTES);
  return headed(batch, records.length, writer, nowMs, packing.codec);
}

function headed(
  batch: Buffer,
  count: number,
  { producerId, producerEpoch, firstSequence, transactional }: Writer,
  nowMs: number,
  codec: number,
) {
  // The broker sets offsets.
  batch.writeBigInt64BE(0n, 0);
  batch.writeInt32BE(batch.length - 12, 8);
  batch.writeInt32BE(0, 12);
  batch.writeInt8(FORMAT, 16);
  batch.writeInt16BE(codec | (transactional ? TRANSACTIONAL : 0), 21);
  batch.writeInt32BE(count - 1, 23);
  batch.writeBigInt64BE(BigInt(nowMs), 27);
  batch.writeBigInt64BE(BigInt(nowMs), 35);
  batch.writeBigInt64BE(producerId, 43);
  batch.writeInt16BE(producerEpoch, 51);
  batch.writeInt32BE(firstSequence, 53);
  batch.writeInt32BE(count, 57);
  batch.writeUInt32BE(crc32c(batch, 21), 17);
  return batch;
}

/** Room that the last batch was packed from, for the next one; null while it is in use. */
let spare: Buffer | null = null;

async function packedRecords(records: readonly BatchRecord[], packing: Packing): Promise<Buffer> {
  const most = mostBytes(records);
  const room = spare !== null && spare.length >= most ? spare : Buffer.allocUnsafeSlow(most);
  spare = null;
  try {
    return await packing.pack(room.subarray(0, writeAll(records, room, 0)));
  } finally {
    if (room.length <= MOST_SPARE_BYTES) spare = room;
  }
}

function mostBytes(records: readonly BatchRecord[]): number {
  let most = 0;
  for (const record of records) most += RECORD_BYTES + bodyBytes(record);
  return most;
}

/** The records from `from` on; answers with where they end. */
function writeAll(records: readonly BatchRecord[], room: Buffer, from: number): number {
  let at = from;
  for (let index = 0; index < records.length; index++) at = write(room, at, records[index]!, index);
  return at;
}

function bodyBytes({ key, value, headers }: BatchRecord): number {
  let bytes = lengthOf(key) + lengthOf(value);
  for (const name in headers) bytes += HEADER_BYTES + Buffer.byteLength(name) + lengthOf(headers[name]!);
  return bytes;
}

function lengthOf(part: Buffer | string | null): number {
  return part === null ? 0 : typeof part === "string" ? Buffer.byteLength(part) : part.length;
}

/** One record from `at` on; answers with where it ends. Its own length comes first, so the rest is measured before. */
function write(out: Buffer, at: number, { key, value, headers }: BatchRecord, index: number): number {
  let count = 0;
  // Attributes and the time since the batch's first: one byte each.
  let length = 2 + varintBytes(index) + partBytes(key) + partBytes(value);
  for (const name in headers) {
    count++;
    length += partBytes(name) + partBytes(headers[name]!);
  }
  let here = varint(out, at, length + varintBytes(count));
  out[here++] = 0;
  out[here++] = 0;
  here = varint(out, here, index);
  here = part(out, here, key);
  here = part(out, here, value);
  here = varint(out, here, count);
  for (const name in headers) {
    here = part(out, here, name);
    here = part(out, here, headers[name]!);
  }
  return here;
}

function partBytes(bytes: Buffer | string | null): number {
  const length = lengthOf(bytes);
  return bytes === null ? 1 : varintBytes(length) + length;
}

function part(out: Buffer, at: number, bytes: Buffer | string | null): number {
  if (bytes === null) return varint(out, at, -1);
  const here = varint(out, at, lengthOf(bytes));
  return here + (typeof bytes === "string" ? out.write(bytes, here, "utf8") : bytes.copy(out, here));
}

/** Zigzag, seven bits a byte. Lengths and counts only: far below 2^30. */
function varint(out: Buffer, at: number, value: number): number {
  let left = ((value << 1) ^ (value >> 31)) >>> 0;
  let here = at;
  for (; left > 0x7f; left >>>= 7) out[here++] = (left & 0x7f) | 0x80;
  out[here] = left;
  return here + 1;
}

function varintBytes(value: number): number {
  let bytes = 1;
  for (let left = ((value << 1) ^ (value >> 31)) >>> 0; left > 0x7f; left >>>= 7) bytes++;
  return bytes;
}
