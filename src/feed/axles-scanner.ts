import type { AxleBlock } from "./axle-block.ts";
import { AxlesHeaders, bytesOf, type Header, ID_BYTES } from "./axles-header.ts";
import { AXLES_A_PASS, AXLES_A_RECORD, GAP_HIGH, ID_CHARS, PASS_MS, SPEED_HIGH, TEMPERATURE_HIGH, TEMPERATURE_LOW } from "./limits.ts";
import { ScannedAxles } from "./scanned-axles.ts";

/**
 * Straight from the bytes of a line to a validated record of axles, for lines written in the usual way: the fields in the
 * contract's order, no spaces, plain decimal numbers, nothing unknown, nothing out of bounds. That is nearly every line
 * of a feed, and takes half the time of JSON.parse. Anything else is left to JSON.parse and the schema, which alone decide
 * what is wrong with a line; a test holds the two to the same answer.
 */
export class AxlesScanner {
  /** Of the last line that was scanned: its record, good until the next scan, its key, and where its line break is. */
  readonly record: ScannedAxles = new ScannedAxles();
  key = "";
  end = 0;
  /** Where the scan stands. */
  private at = 0;
  private headers = new AxlesHeaders();
  private values = new AxlesHeaders();

  /** True when the line that starts at `from` is of the usual shape. `bytes` must end with a line break. */
  scan(bytes: Buffer, from: number): boolean {
    const header = this.headers.find(bytes, from);
    if (header === null) return false;
    this.at = from + header.bytes.length;
    if (!this.columns(bytes, header) || bytes[this.at++] !== BRACE) return false;
    if (bytes[this.at] === RETURN) this.at++;
    if (bytes[this.at] !== NEWLINE) return false;
    this.key = header.key;
    this.end = this.at;
    return true;
  }

  /** The same for a record that stands alone, as it lies in the log: `bytes` are all of it, without a line break. */
  scanValue(bytes: Buffer): boolean {
    const header = this.values.findValue(bytes);
    if (header === null) return false;
    this.at = header.bytes.length;
    return this.columns(bytes, header) && this.at === bytes.length;
  }

  /** From behind the header to the end of the record. */
  private columns(bytes: Buffer, header: Header): boolean {
    const { block } = this.record;
    const first = this.ordinal(bytes);
    if (!(first >= 1 && first <= AXLES_A_PASS) || !this.literal(bytes, MS)) return false;
    const n = this.milliseconds(bytes, block.ms);
    if (n === 0 || first + n - 1 > AXLES_A_PASS) return false;
    if (!this.literal(bytes, GAP) || !this.column(bytes, n, 0, GAP_HIGH, block.gap)) return false;
    block.hasSpeed = this.literal(bytes, SPEED);
    if (block.hasSpeed && !this.column(bytes, n, 0, SPEED_HIGH, block.speed)) return false;
    if (!this.literal(bytes, LEFT) || !this.rail(bytes, n, block, 0)) return false;
    if (!this.literal(bytes, RIGHT) || !this.rail(bytes, n, block, 1)) return false;
    block.tag = null;
    if (this.literal(bytes, TAG)) {
      block.tag = this.tags(bytes, n);
      if (block.tag === null || !this.literal(bytes, END_OF_TAGS)) return false;
    } else if (!this.literal(bytes, END)) return false;
    block.first = first;
    block.count = n;
    this.record.site = header.site;
    this.record.track = header.track;
    this.record.pass = header.pass;
    return true;
  }

  private rail(bytes: Buffer, n: number, block: AxleBlock, rail: 0 | 1): boolean {
    if (!this.column(bytes, n, TEMPERATURE_LOW, TEMPERATURE_HIGH, block.bearing[rail])) return false;
    block.hasWheel[rail] = this.literal(bytes, WHEEL);
    return !block.hasWheel[rail] || this.column(bytes, n, TEMPERATURE_LOW, TEMPERATURE_HIGH, block.wheel[rail]);
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

  /** A whole number from 1 on; 0 when it is none, or longer than any count of axles. */
  private ordinal(bytes: Buffer): number {
    let at = this.at;
    let value = 0;
    // JSON has no leading zeros.
    if (bytes[at] === ZERO) return 0;
    for (let digit = bytes[at]! - ZERO; digit >= 0 && digit <= 9; digit = bytes[++at]! - ZERO) {
      value = value * 10 + digit;
      if (value > AXLES_A_PASS) return 0;
    }
    this.at = at;
    return value;
  }

  /** The column that sets the number of axles, to behind its bracket; returns how many, 0 when it is not as it should be. */
  private milliseconds(bytes: Buffer, out: Float64Array): number {
    for (let i = 0; i < AXLES_A_RECORD; i++) {
      const at = this.number(bytes, this.at, out, i);
      if (at === 0 || !(out[i]! >= 0 && out[i]! <= PASS_MS)) return 0;
      const next = bytes[at];
      this.at = at + 1;
      if (next === BRACKET) return i + 1;
      if (next !== COMMA) return 0;
    }
    return 0;
  }

  /** A column of exactly n readings, to behind its bracket; NaN where one was not taken. */
  private column(bytes: Buffer, n: number, low: number, high: number, out: Float64Array): boolean {
    let at = this.at;
    for (let i = 0; i < n; i++) {
      if (bytes[at] === LETTER_N) {
        this.at = at;
        if (!this.literal(bytes, NULL)) return false;
        at = this.at;
        out[i] = Number.NaN;
      } else {
        at = this.number(bytes, at, out, i);
        if (at === 0 || !(out[i]! >= low && out[i]! <= high)) return false;
      }
      if (bytes[at++] !== (i === n - 1 ? BRACKET : COMMA)) return false;
    }
    this.at = at;
    return true;
  }

  /**
   * A plain decimal number at `at`, into `out[i]`; returns where it ends. 0 for what is none, has an exponent or more than
   * 15 digits: up to there digits and power of ten are exact in double, so their quotient is rounded once and is the very
   * number that JSON.parse gives.
   */
  private number(bytes: Buffer, from: number, out: Float64Array, i: number): number {
    let at = from;
    const negative = bytes[at] === MINUS;
    if (negative) at++;
    const start = at;
    let digit = bytes[at]! - ZERO;
    if (digit < 0 || digit > 9) return 0;
    let digits = digit;
    digit = bytes[++at]! - ZERO;
    // JSON has no leading zeros.
    if (digits === 0 && digit >= 0 && digit <= 9) return 0;
    while (digit >= 0 && digit <= 9) {
      digits = digits * 10 + digit;
      digit = bytes[++at]! - ZERO;
    }
    let places = 0;
    let length = at - start;
    if (digit === DOT - ZERO) {
      const point = at;
      digit = bytes[++at]! - ZERO;
      while (digit >= 0 && digit <= 9) {
        digits = digits * 10 + digit;
        digit = bytes[++at]! - ZERO;
      }
      places = at - point - 1;
      if (places === 0) return 0;
      length += places;
    }
    if (length > EXACT_DIGITS) return 0;
    const value = places === 0 ? digits : digits / POWERS[places]!;
    out[i] = negative ? -value : value;
    return at;
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
const END = bytesOf("}}");
const TAG = bytesOf('},"tag":[');
const END_OF_TAGS = bytesOf("}");
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
const BRACE = 125;
const LETTER_N = 110;

const EXACT_DIGITS = 15;
const POWERS = Float64Array.from({ length: EXACT_DIGITS + 1 }, (_, places) => 10 ** places);
