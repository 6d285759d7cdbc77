import { AxlesHeaders, bytesOf, type Header, ID_BYTES } from "./axles-header.ts";
import { AXLES_A_PASS, AXLES_A_RECORD, GAP_HIGH, ID_CHARS, PASS_MS, SPEED_HIGH, TEMPERATURE_HIGH, TEMPERATURE_LOW } from "./limits.ts";
import type { Axles, RailColumns } from "./record.ts";

/**
 * Straight from the bytes of a line to a validated record of axles, for lines written in the usual way: the fields in the
 * contract's order, no spaces, plain decimal numbers, nothing unknown, nothing out of bounds. That is nearly every line
 * of a feed, and takes half the time of JSON.parse. Anything else is left to JSON.parse and the schema, which alone decide
 * what is wrong with a line; a test holds the two to the same answer.
 */
export class AxlesScanner {
  /** Of the last line that was scanned: its record, key, and where its line break is. */
  record: Axles | null = null;
  key = "";
  end = 0;
  /** Where the scan stands. */
  private at = 0;
  private headers = new AxlesHeaders();

  /** True when the line that starts at `from` is of the usual shape. `bytes` must end with a line break. */
  scan(bytes: Buffer, from: number): boolean {
    const header = this.headers.find(bytes, from);
    if (header === null) return false;
    this.at = from + header.bytes.length;
    const first = this.number(bytes);
    if (!(first >= 1 && first <= AXLES_A_PASS) || first !== Math.floor(first) || !this.literal(bytes, MS)) return false;
    const ms = this.milliseconds(bytes);
    const n = ms.length;
    if (n === 0 || first + n - 1 > AXLES_A_PASS || !this.literal(bytes, GAP)) return false;
    const gap = this.column(bytes, n, 0, GAP_HIGH);
    if (gap === null) return false;
    const speed = this.literal(bytes, SPEED) ? this.column(bytes, n, 0, SPEED_HIGH) : undefined;
    if (speed === null || !this.literal(bytes, LEFT)) return false;
    const left = this.rail(bytes, n);
    if (left === null || !this.literal(bytes, RIGHT)) return false;
    const right = this.rail(bytes, n);
    if (right === null) return false;
    const tag = this.literal(bytes, TAG) ? this.tags(bytes, n) : undefined;
    if (tag === null || !this.literal(bytes, tag === undefined ? END : END_OF_TAGS)) return false;
    if (bytes[this.at] === RETURN) this.at++;
    if (bytes[this.at] !== NEWLINE) return false;
    this.record = recordOf(header, first, ms, gap, speed, left, right, tag);
    this.key = header.key;
    this.end = this.at;
    return true;
  }

  private rail(bytes: Buffer, n: number): RailColumns | null {
    const bearing = this.column(bytes, n, TEMPERATURE_LOW, TEMPERATURE_HIGH);
    if (bearing === null) return null;
    if (!this.literal(bytes, WHEEL)) return { bearing };
    const wheel = this.column(bytes, n, TEMPERATURE_LOW, TEMPERATURE_HIGH);
    return wheel === null ? null : { bearing, wheel };
  }

  private tags(bytes: Buffer, n: number): (string | null)[] | null {
    const out: (string | null)[] = [];
    for (let i = 0; i < n; i++) {
      if (bytes[this.at] === LETTER_N) {
        if (!this.literal(bytes, NULL)) return null;
        out.push(null);
      } else {
        const tag = this.tag(bytes);
        if (tag === null) return null;
        out.push(tag);
      }
      if (bytes[this.at++] !== (i === n - 1 ? BRACKET : COMMA)) return null;
    }
    return out;
  }

  /** An id that may hold inner spaces. */
  private tag(bytes: Buffer): string | null {
    if (bytes[this.at] !== QUOTE) return null;
    const start = ++this.at;
    while (ID_BYTES[bytes[this.at]!] === 1 || bytes[this.at] === SPACE) this.at++;
    const end = this.at;
    const length = end - start;
    if (length === 0 || length > ID_CHARS || bytes[start] === SPACE || bytes[end - 1] === SPACE || bytes[this.at++] !== QUOTE) return null;
    return bytes.toString("latin1", start, end);
  }

  /** The column that sets the number of axles; empty when it is not as it should be. */
  private milliseconds(bytes: Buffer): number[] {
    const out: number[] = [];
    for (;;) {
      const value = this.number(bytes);
      if (!(value >= 0 && value <= PASS_MS) || out.length === AXLES_A_RECORD) return [];
      out.push(value);
      const next = bytes[this.at++];
      if (next === BRACKET) return out;
      if (next !== COMMA) return [];
    }
  }

  /** A column of exactly n readings, to behind its bracket. */
  private column(bytes: Buffer, n: number, low: number, high: number): (number | null)[] | null {
    if (n === 1) {
      const only = bytes[this.at] === LETTER_N ? this.nothing(bytes) : this.number(bytes);
      return (only === null || (only >= low && only <= high)) && bytes[this.at++] === BRACKET ? [only] : null;
    }
    // A copy of a packed array of doubles: its values are then written in place, without a box for each.
    const out: number[] = TEMPLATES[n]!.slice();
    for (let i = 0; i < n; i++) {
      if (bytes[this.at] === LETTER_N) return this.rest(bytes, out, i, low, high);
      const value = this.number(bytes);
      if (!(value >= low && value <= high) || bytes[this.at++] !== (i === n - 1 ? BRACKET : COMMA)) return null;
      out[i] = value;
    }
    return out;
  }

  /** The rest of a column from its first reading on that was not taken. */
  private rest(bytes: Buffer, out: (number | null)[], from: number, low: number, high: number): (number | null)[] | null {
    for (let i = from; i < out.length; i++) {
      const value = bytes[this.at] === LETTER_N ? this.nothing(bytes) : this.number(bytes);
      if (value !== null && !(value >= low && value <= high)) return null;
      if (bytes[this.at++] !== (i === out.length - 1 ? BRACKET : COMMA)) return null;
      out[i] = value;
    }
    return out;
  }

  private nothing(bytes: Buffer): null | number {
    return this.literal(bytes, NULL) ? null : Number.NaN;
  }

  /**
   * A plain decimal number. NaN for what is none, has an exponent or more than 15 digits: up to there digits and power of
   * ten are exact in double, so their quotient is rounded once and is the very number that JSON.parse gives.
   */
  private number(bytes: Buffer): number {
    let at = this.at;
    const negative = bytes[at] === MINUS;
    if (negative) at++;
    const start = at;
    let digit = bytes[at]! - ZERO;
    if (digit < 0 || digit > 9) return Number.NaN;
    let digits = digit;
    digit = bytes[++at]! - ZERO;
    // JSON has no leading zeros.
    if (digits === 0 && digit >= 0 && digit <= 9) return Number.NaN;
    while (digit >= 0 && digit <= 9) {
      digits = digits * 10 + digit;
      digit = bytes[++at]! - ZERO;
    }
    let value = digits;
    let dot = 0;
    if (digit === DOT - ZERO) {
      const point = at;
      digit = bytes[++at]! - ZERO;
      while (digit >= 0 && digit <= 9) {
        digits = digits * 10 + digit;
        digit = bytes[++at]! - ZERO;
      }
      const places = at - point - 1;
      if (places === 0 || places > EXACT_DIGITS) return Number.NaN;
      value = digits / POWERS[places]!;
      dot = 1;
    }
    if (at - start - dot > EXACT_DIGITS) return Number.NaN;
    this.at = at;
    return negative ? -value : value;
  }

  /** Steps over the literal when it is there. */
  private literal(bytes: Buffer, literal: Uint8Array): boolean {
    const at = this.at;
    for (let i = 0; i < literal.length; i++) if (bytes[at + i] !== literal[i]) return false;
    this.at = at + literal.length;
    return true;
  }
}

const MS = bytesOf(',"ms":[');
const GAP = bytesOf(',"gap":[');
const SPEED = bytesOf(',"speed":[');
const LEFT = bytesOf(',"left":{"bearing":[');
const WHEEL = bytesOf(',"wheel":[');
const RIGHT = bytesOf('},"right":{"bearing":[');
const END = bytesOf("}}}");
const TAG = bytesOf('},"tag":[');
const END_OF_TAGS = bytesOf("}}");
const NULL = bytesOf("null");

const NEWLINE = 10;
const RETURN = 13;
const SPACE = 32;
const QUOTE = 34;
const COMMA = 44;
const MINUS = 45;
const DOT = 46;
const ZERO = 48;
const BRACKET = 93;
const LETTER_N = 110;

const EXACT_DIGITS = 15;
const POWERS = Float64Array.from({ length: EXACT_DIGITS + 1 }, (_, places) => 10 ** places);

/** Arrays of n doubles. */
const TEMPLATES = Array.from({ length: AXLES_A_RECORD + 1 }, (_, n) => Array.from({ length: n }, () => 0.5));

/** Fields in the contract's order, and only those that are there. */
function recordOf(
  { site, track, pass }: Header,
  first: number,
  ms: number[],
  gap: (number | null)[],
  speed: (number | null)[] | undefined,
  left: RailColumns,
  right: RailColumns,
  tag: (string | null)[] | undefined,
): Axles {
  const type = "axles";
  if (tag === undefined) {
    return speed === undefined
      ? { type, site, track, pass, first, ms, gap, left, right }
      : { type, site, track, pass, first, ms, gap, speed, left, right };
  }
  return speed === undefined
    ? { type, site, track, pass, first, ms, gap, left, right, tag }
    : { type, site, track, pass, first, ms, gap, speed, left, right, tag };
}
