import { ID_CHARS } from "./limits.ts";

/** What the records of one pass begin with, in the usual way of writing them: all up to the ordinal of the first axle. */
export interface Header {
  bytes: Uint8Array;
  /** Empty for a record that stands alone. */
  key: string;
  site: string;
  track: string;
  pass: string;
}

/** Headers remembered, by a hash of the key: a power of two, a few times the tracks of a railroad. */
const HEADERS = 4096;

const TOPIC = bytesOf('{"topic":"axle-readings","key":"');
const SITE = bytesOf('","value":{"type":"axles","site":"');
const VALUE = bytesOf('{"type":"axles","site":"');
const TRACK = bytesOf('","track":"');
const PASS = bytesOf('","pass":"');
const FIRST = bytesOf('","first":');

const KEY_AT = TOPIC.length;
const SITE_AT = VALUE.length;
/** Longest key that is hashed: two ids and a slash. */
const KEY_LOOK = 2 * ID_CHARS + 1;

/** No record of axles is shorter than this; as far as a site's longest name and the track's first letter, nothing is read beyond the end. */
const SHORTEST_VALUE = 110;

const QUOTE = 34;
const SLASH = 47;

/** 1 for A-Z a-z 0-9 . _ - */
export const ID_BYTES = Uint8Array.from({ length: 256 }, (_, byte) => (/[A-Za-z0-9._-]/.test(String.fromCharCode(byte)) ? 1 : 0));

/**
 * Headers of lines. The last one of every site and track is remembered, since the next record there most likely begins
 * with the same bytes; its strings then serve all records of the pass.
 */
export class AxlesHeaders {
  private headers: (Header | null)[] = new Array(HEADERS).fill(null);
  private at = 0;
  private idAt = 0;

  /** The header of the line at `from`, or null when the line is not written in the usual way. */
  find(bytes: Buffer, from: number): Header | null {
    // No usual line is shorter than this, and nothing is read beyond the end.
    if (from + KEY_AT + KEY_LOOK > bytes.length) return null;
    let slot = 0;
    for (let at = from + KEY_AT; bytes[at] !== QUOTE && at < from + KEY_AT + KEY_LOOK; at++) {
      slot = (Math.imul(slot, 31) + bytes[at]!) & (HEADERS - 1);
    }
    const known = this.headers[slot]!;
    if (known !== null && startsWith(bytes, from, known.bytes)) return known;
    const fresh = this.read(bytes, from);
    if (fresh !== null) this.headers[slot] = fresh;
    return fresh;
  }

  /** The header of a record that stands alone, as it lies in the log, or null when it is not written in the usual way. */
  findValue(bytes: Buffer): Header | null {
    if (bytes.length < SHORTEST_VALUE) return null;
    let slot = 0;
    let at = SITE_AT;
    for (; bytes[at] !== QUOTE && at < SITE_AT + ID_CHARS; at++) slot = (Math.imul(slot, 31) + bytes[at]!) & (HEADERS - 1);
    // A track's id begins after the literal and is short: one letter of it tells the tracks of a site apart.
    slot = (Math.imul(slot, 31) + (bytes[at + TRACK.length] ?? 0)) & (HEADERS - 1);
    const known = this.headers[slot]!;
    if (known !== null && startsWith(bytes, 0, known.bytes)) return known;
    this.at = 0;
    const fresh = this.literal(bytes, VALUE) ? this.named(bytes, 0, "") : null;
    if (fresh !== null) this.headers[slot] = fresh;
    return fresh;
  }

  private read(bytes: Buffer, from: number): Header | null {
    this.at = from;
    if (!this.literal(bytes, TOPIC)) return null;
    const keyAt = this.at;
    if (!this.id(bytes) || bytes[this.at++] !== SLASH || !this.id(bytes)) return null;
    const key = bytes.toString("latin1", keyAt, this.at);
    return this.literal(bytes, SITE) ? this.named(bytes, from, key) : null;
  }

  /** From the site's name on. */
  private named(bytes: Buffer, from: number, key: string): Header | null {
    const site = this.id(bytes) ? this.text(bytes) : null;
    const track = site !== null && this.literal(bytes, TRACK) && this.id(bytes) ? this.text(bytes) : null;
    const pass = track !== null && this.literal(bytes, PASS) && this.id(bytes) ? this.text(bytes) : null;
    if (site === null || track === null || pass === null || !this.literal(bytes, FIRST)) return null;
    return { bytes: new Uint8Array(bytes.subarray(from, this.at)), key, site, track, pass };
  }

  private id(bytes: Buffer): boolean {
    this.idAt = this.at;
    while (ID_BYTES[bytes[this.at]!] === 1) this.at++;
    const length = this.at - this.idAt;
    return length > 0 && length <= ID_CHARS;
  }

  /** The id just stepped over. */
  private text(bytes: Buffer): string {
    return bytes.toString("latin1", this.idAt, this.at);
  }

  private literal(bytes: Buffer, literal: Uint8Array): boolean {
    if (!startsWith(bytes, this.at, literal)) return false;
    this.at += literal.length;
    return true;
  }
}

export function bytesOf(text: string): Uint8Array {
  return new Uint8Array(Buffer.from(text, "latin1"));
}

function startsWith(bytes: Buffer, from: number, start: Uint8Array): boolean {
  if (from + start.length > bytes.length) return false;
  // From behind: records of two passes of a site differ there first.
  for (let i = start.length - 1; i >= 0; i--) if (bytes[from + i] !== start[i]) return false;
  return true;
}
