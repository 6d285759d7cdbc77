import { isAscii, isUtf8 } from "node:buffer";
import { AxlesScanner } from "./axles-scanner.ts";
import { type FeedLine, openLine, refusedLine } from "./feed-line.ts";
import { LINE_BYTES, RAW_BYTES } from "./limits.ts";
import { refusal } from "./reject.ts";

const NEWLINE = 10;
const RETURN = 13;
const LINE_BREAK = Buffer.from([NEWLINE]);

/**
 * Bytes into opened lines. Holds at most one unfinished line of LINE_BYTES: what is longer is refused as soon as that is
 * clear, and passed over to its end.
 */
export class LineCutter {
  /** Lines seen, blank ones included. */
  lines = 0;
  blank = 0;
  private rest: Buffer = Buffer.alloc(0);
  private scanner = new AxlesScanner();
  private first = true;
  /** Within a line that was already refused: its length so far. */
  private passingOver = false;

  /** Opened lines that end within these bytes. */
  cut(piece: Buffer): FeedLine[] {
    const out: FeedLine[] = [];
    let bytes = this.rest.length === 0 ? piece : Buffer.concat([this.rest, piece]);
    if (this.first && bytes.length >= 3) {
      this.first = false;
      if (bytes[0] === 0xef && bytes[1] === 0xbb && bytes[2] === 0xbf) bytes = bytes.subarray(3);
    }
    if (this.passingOver) {
      const end = bytes.indexOf(NEWLINE);
      if (end < 0) {
        this.rest = Buffer.alloc(0);
        return out;
      }
      this.passingOver = false;
      bytes = bytes.subarray(end + 1);
    }
    const end = bytes.lastIndexOf(NEWLINE) + 1;
    if (end > 0) this.open(bytes.subarray(0, end), out);
    this.keep(bytes.subarray(end), out);
    return out;
  }

  /** The last line, when the file does not end with a line break. */
  end(): FeedLine[] {
    const out: FeedLine[] = [];
    if (this.rest.length > 0) this.open(Buffer.concat([this.rest, LINE_BREAK]), out);
    this.rest = Buffer.alloc(0);
    return out;
  }

  private keep(rest: Buffer, out: FeedLine[]): void {
    if (rest.length <= LINE_BYTES) {
      // A copy: the piece's memory is not held for the sake of its tail.
      this.rest = Buffer.from(rest);
      return;
    }
    this.lines++;
    out.push(refusedLine(Buffer.from(rest.subarray(0, RAW_BYTES)), this.lines, rest.length, refusal("FEED-003 too-large")));
    this.passingOver = true;
    this.rest = Buffer.alloc(0);
  }

  /**
   * Whole lines, each with its line break. What the scanner leaves is opened as text: one conversion for all where the
   * bytes are ASCII, and slices of it cost nothing.
   */
  private open(bytes: Buffer, out: FeedLine[]): void {
    let text: string | null = null;
    let from = 0;
    while (from < bytes.length) {
      this.lines++;
      if (this.scanner.scan(bytes, from)) {
        const { record, key, end } = this.scanner;
        out.push({ line: this.lines, bytes: end - from, topic: "axle-readings", key, value: record, record, refused: null });
        from = end + 1;
        continue;
      }
      const end = bytes.indexOf(NEWLINE, from);
      if (end - from > LINE_BYTES) out.push(this.tooLong(bytes.subarray(from, end)));
      else if (isBlank(bytes, from, end)) this.blank++;
      else {
        text ??= isAscii(bytes) ? bytes.toString("latin1") : "";
        if (text !== "") out.push(openLine(text.slice(from, end), this.lines, end - from));
        else out.push(this.openWide(bytes.subarray(from, end)));
      }
      from = end + 1;
    }
  }

  /** A line among bytes that are not all ASCII. */
  private openWide(line: Buffer): FeedLine {
    if (isUtf8(line)) return openLine(line.toString("utf8"), this.lines, line.length);
    return refusedLine(Buffer.from(line), this.lines, line.length, refusal("FEED-001 not-utf8"));
  }

  private tooLong(line: Buffer): FeedLine {
    return refusedLine(Buffer.from(line.subarray(0, RAW_BYTES)), this.lines, line.length, refusal("FEED-003 too-large"));
  }
}

function isBlank(bytes: Buffer, from: number, end: number): boolean {
  return end === from || (end === from + 1 && bytes[from] === RETURN);
}
