import { isAscii, isUtf8 } from "node:buffer";
import { AxlesScanner } from "./axles-scanner.ts";
import type { Elsewhere } from "./elsewhere.ts";
import { type FeedLine, openLine, refusedLine } from "./feed-line.ts";
import { LINE_BYTES, RAW_BYTES } from "./limits.ts";
import { refusal } from "./reject.ts";
import type { ScannedAxles } from "./scanned-axles.ts";

const NEWLINE = 10;
const RETURN = 13;
const LINE_BREAK = Buffer.from([NEWLINE]);

/** Who is shown a feed line by line, in its order. */
export interface LineVisitor {
  /** A line of axles that was read straight from its bytes, validated. `record` is good until this returns. */
  axles(record: ScannedAxles, key: string, line: number, bytes: number): void;
  /** Any other line. `home`: the site that its beginning says it is of, where `elsewhere` is asked for that. */
  line(line: FeedLine, home: string | null): void;
  /** Readings that are passed over, unseen and unjudged; absent: none. */
  readonly elsewhere?: Elsewhere;
}

/**
 * Bytes into opened lines. Holds at most one unfinished line of LINE_BYTES: what is longer is refused as soon as that is
 * clear, and passed over to its end. Keeps nothing of a piece once it was cut.
 */
export class LineCutter {
  /** Lines seen, blank ones included. */
  lines = 0;
  blank = 0;
  /** An unfinished line, and room for the piece that goes on with it. */
  private room: Buffer = Buffer.alloc(0);
  private restBytes = 0;
  private scanner = new AxlesScanner();
  private first = true;
  /** Within a line that was already refused: its length so far. */
  private passingOver = false;

  /** Opened lines that end within these bytes. */
  cut(piece: Buffer): FeedLine[] {
    const out: FeedLine[] = [];
    this.visit(piece, collecting(out));
    return out;
  }

  /** Shows the lines that end within these bytes. */
  visit(piece: Buffer, visitor: LineVisitor): void {
    let bytes = this.joined(piece);
    if (this.first && bytes.length >= 3) {
      this.first = false;
      if (bytes[0] === 0xef && bytes[1] === 0xbb && bytes[2] === 0xbf) bytes = bytes.subarray(3);
    }
    if (this.passingOver) {
      const end = bytes.indexOf(NEWLINE);
      if (end < 0) {
        this.restBytes = 0;
        return;
      }
      this.passingOver = false;
      bytes = bytes.subarray(end + 1);
    }
    const end = bytes.lastIndexOf(NEWLINE) + 1;
    if (end > 0) this.open(bytes.subarray(0, end), visitor);
    this.keep(bytes.subarray(end), visitor);
  }

  /** The last line, when the file does not end with a line break. */
  end(): FeedLine[] {
    const out: FeedLine[] = [];
    this.visitEnd(collecting(out));
    return out;
  }

  /** Shows the last line, when the file does not end with a line break. */
  visitEnd(visitor: LineVisitor): void {
    if (this.restBytes > 0) this.open(Buffer.concat([this.room.subarray(0, this.restBytes), LINE_BREAK]), visitor);
    this.restBytes = 0;
  }

  /** The piece behind what was left of the one before. */
  private joined(piece: Buffer): Buffer {
    if (this.restBytes === 0) return piece;
    const length = this.restBytes + piece.length;
    if (this.room.length < length) {
      const wider = Buffer.allocUnsafeSlow(length + LINE_BYTES);
      this.room.copy(wider, 0, 0, this.restBytes);
      this.room = wider;
    }
    piece.copy(this.room, this.restBytes);
    return this.room.subarray(0, length);
  }

  private keep(rest: Buffer, visitor: LineVisitor): void {
    if (rest.length <= LINE_BYTES) {
      // A copy: the piece's memory is not held for the sake of its tail.
      if (this.room.length < rest.length) this.room = Buffer.allocUnsafeSlow(2 * LINE_BYTES);
      rest.copy(this.room);
      this.restBytes = rest.length;
      return;
    }
    this.lines++;
    const home = visitor.elsewhere?.homeOf(rest, 0, rest.length) ?? null;
    visitor.line(this.tooLong(rest), home);
    this.passingOver = true;
    this.restBytes = 0;
  }

  /** Whole lines, each with its line break. What the scanner leaves is opened as text, the quick way where all bytes are ASCII. */
  private open(bytes: Buffer, visitor: LineVisitor): void {
    const { scanner } = this;
    const { elsewhere } = visitor;
    let ascii: boolean | null = null;
    let from = 0;
    while (from < bytes.length) {
      this.lines++;
      const passed = elsewhere === undefined ? -1 : elsewhere.endOf(bytes, from);
      if (passed >= 0) {
        from = passed + 1;
        continue;
      }
      if (scanner.scan(bytes, from)) {
        visitor.axles(scanner.record, scanner.key, this.lines, scanner.end - from);
        from = scanner.end + 1;
        continue;
      }
      const end = bytes.indexOf(NEWLINE, from);
      const home = elsewhere?.homeOf(bytes, from, end) ?? null;
      if (end - from > LINE_BYTES) visitor.line(this.tooLong(bytes.subarray(from, end)), home);
      else if (isBlank(bytes, from, end)) this.blank++;
      else {
        ascii ??= isAscii(bytes);
        if (ascii) visitor.line(openLine(bytes.toString("latin1", from, end), this.lines, end - from), home);
        else visitor.line(this.openWide(bytes.subarray(from, end)), home);
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

/** Keeps every line, those of axles as records of their own. */
function collecting(out: FeedLine[]): LineVisitor {
  return {
    axles: (scanned, key, line, bytes) => {
      const record = scanned.kept();
      out.push({ line, bytes, topic: "axle-readings", key, value: record, record, refused: null });
    },
    line: (line) => out.push(line),
  };
}

function isBlank(bytes: Buffer, from: number, end: number): boolean {
  return end === from || (end === from + 1 && bytes[from] === RETURN);
}
