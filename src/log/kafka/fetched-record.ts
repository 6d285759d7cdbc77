import type { IHeaders } from "kafkajs";

/** What all records of a batch have in common. */
export interface BatchContext {
  producerId: string;
  inTransaction: boolean;
}

/**
 * A record as it lies in a fetched batch (format 2 of Kafka's protocol: kafka.apache.org/documentation/#record), with the
 * fields that kafkajs and its callers ask for. Key and headers are looked at only when somebody asks: of most records only
 * the value is ever read.
 */
export class FetchedRecord {
  /** The offset as a number, and when the log took the record, in milliseconds since the epoch. */
  readonly at: number;
  readonly arrivedMs: number;
  readonly value: Buffer | null;
  readonly batchContext: BatchContext;
  isControlRecord: boolean;
  private readonly bytes: Buffer;
  private readonly keyAt: number;
  private readonly keyLength: number;
  private readonly headersAt: number;

  /** `keyAt`, `valueAt`: where they begin in `bytes`; a length of -1: there is none. */
  constructor(
    bytes: Buffer,
    place: { at: number; arrivedMs: number },
    key: { at: number; length: number },
    value: { at: number; length: number },
    batch: { context: BatchContext; isControl: boolean },
    hasHeaders = true,
  ) {
    this.bytes = bytes;
    this.at = place.at;
    this.arrivedMs = place.arrivedMs;
    this.keyAt = key.at;
    this.keyLength = key.length;
    this.value = value.length < 0 ? null : bytes.subarray(value.at, value.at + value.length);
    this.headersAt = hasHeaders ? value.at + Math.max(0, value.length) : -1;
    this.batchContext = batch.context;
    this.isControlRecord = batch.isControl;
  }

  get offset(): string {
    return String(this.at);
  }

  get timestamp(): string {
    return String(this.arrivedMs);
  }

  get key(): Buffer | null {
    return this.keyLength < 0 ? null : this.bytes.subarray(this.keyAt, this.keyAt + this.keyLength);
  }

  /** Of a name given more than once: all its values. Where they are not what they say, those before. */
  get headers(): IHeaders {
    // Names are a sender's, `__proto__` among them.
    const headers: IHeaders = Object.create(null);
    try {
      if (this.headersAt >= 0) this.readHeaders(headers);
    } catch (error) {
      if (!(error instanceof RangeError)) throw error;
    }
    return headers;
  }

  private readHeaders(headers: IHeaders): void {
    const cursor = new Cursor(this.bytes, this.headersAt);
    for (let left = cursor.varint(); left > 0; left--) {
      const name = cursor.taken(cursor.varint())?.toString("utf8") ?? "";
      const value = cursor.taken(cursor.varint()) ?? undefined;
      const before = headers[name];
      headers[name] =
        before === undefined ? value : [...(Array.isArray(before) ? before : [before]), ...(value === undefined ? [] : [value])];
    }
  }
}

/** Reads on in bytes of the protocol: whole numbers big-endian, lengths as zigzag varints. */
export class Cursor {
  readonly bytes: Buffer;
  at: number;

  constructor(bytes: Buffer, at: number) {
    this.bytes = bytes;
    this.at = at;
  }

  int8(): number {
    return this.bytes.readInt8(this.at++);
  }

  int16(): number {
    this.at += 2;
    return this.bytes.readInt16BE(this.at - 2);
  }

  int32(): number {
    this.at += 4;
    return this.bytes.readInt32BE(this.at - 4);
  }

  /** Exact up to 2^53, far beyond any offset or time. */
  int64(): number {
    this.at += 8;
    return this.bytes.readInt32BE(this.at - 8) * 2 ** 32 + this.bytes.readUInt32BE(this.at - 4);
  }

  /** Ids of producers use all bits. */
  int64Text(): string {
    this.at += 8;
    return this.bytes.readBigInt64BE(this.at - 8).toString();
  }

  /** @throws RangeError beyond the end: what was fetched is not what it says */
  varint(): number {
    const value = this.unsigned();
    return value % 2 === 0 ? value / 2 : -(value + 1) / 2;
  }

  /** The next bytes, not a copy; null for a negative length. */
  taken(length: number): Buffer | null {
    if (length < 0) return null;
    this.at += length;
    if (this.at > this.bytes.length) throw new RangeError("a record that is longer than its batch");
    return this.bytes.subarray(this.at - length, this.at);
  }

  string(): string {
    return this.taken(this.int16())?.toString("utf8") ?? "";
  }

  private unsigned(): number {
    const { bytes } = this;
    let byte = bytes[this.at++];
    if (byte === undefined) throw new RangeError("a record that is longer than its batch");
    // Nearly all are short.
    let value = byte & LOW_BITS;
    for (let shift = 7; byte >= MORE; shift += 7) {
      byte = bytes[this.at++];
      if (byte === undefined || shift > MOST_SHIFT) throw new RangeError("a record that is longer than its batch");
      value += (byte & LOW_BITS) * 2 ** shift;
    }
    return value;
  }
}

const LOW_BITS = 0x7f;
const MORE = 0x80;
/** Ten bytes hold 64 bits. */
const MOST_SHIFT = 63;
