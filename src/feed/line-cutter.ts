import { isAscii, isUtf8 } from "node:buffer";
import { type FeedLine, openLine, refusedLine } from "./feed-line.ts";
import { LINE_BYTES, RAW_BYTES } from "./limits.ts";
import { refusal } from "./reject.ts";

const NEWLINE = 10;
const RETURN = 13;

/**
 * Bytes into opened lines. Holds at most one unfinished line of LINE_BYTES: what is longer is refused as soon as that is
 * clear, and passed over to its end.
 */
export class LineCutter {
  /** Lines seen, blank ones included. */
  lines = 0;
  blank = 0;
  private rest: Buffer = Buffer.alloc(0);
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
    if (this.rest.length > 0) this.open(this.rest, out);
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

  /** Whole lines. As one string where they are ASCII: one conversion for all, and slices of it cost nothing. */
  private open(bytes: Buffer, out: FeedLine[]): void {
    if (!isAscii(bytes)) {
      this.openOneByOne(bytes, out);
      return;
    }
    const text = bytes.toString("latin1");
    let from = 0;
    while (from < text.length) {
      let end = text.indexOf("\n", from);
      if (end < 0) end = text.length;
      this.lines++;
      if (end - from > LINE_BYTES) out.push(this.tooLong(bytes.subarray(from, end)));
      else if (isBlank(bytes, from, end)) this.blank++;
      else out.push(openLine(text.slice(from, end), this.lines, end - from));
      from = end + 1;
    }
  }

  private openOneByOne(bytes: Buffer, out: FeedLine[]): void {
    let from = 0;
    while (from < bytes.length) {
      let end = bytes.indexOf(NEWLINE, from);
      if (end < 0) end = bytes.length;
      const line = bytes.subarray(from, end);
      this.lines++;
      if (line.length > LINE_BYTES) out.push(this.tooLong(line));
      else if (isBlank(bytes, from, end)) this.blank++;
      else if (isUtf8(line)) out.push(openLine(line.toString("utf8"), this.lines, line.length));
      else out.push(refusedLine(Buffer.from(line), this.lines, line.length, refusal("FEED-001 not-utf8")));
      from = end + 1;
    }
  }

  private tooLong(line: Buffer): FeedLine {
    return refusedLine(Buffer.from(line.subarray(0, RAW_BYTES)), this.lines, line.length, refusal("FEED-003 too-large"));
  }
}

function isBlank(bytes: Buffer, from: number, end: number): boolean {
  return end === from || (end === from + 1 && bytes[from] === RETURN);
}
