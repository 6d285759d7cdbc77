import { LINE_BYTES, RAW_BYTES } from "../limits.ts";
import { refusal } from "../reject.ts";
import { type Offer, offerOf, refused } from "./offer.ts";

const NEWLINE = 10;
const RETURN = 13;

/** Bytes into offered records, one a line. Holds at most one unfinished line of LINE_BYTES; blank lines are nothing. */
export class RawLines {
  /** Lines ended so far, blank ones included. */
  lines = 0;
  #rest: Buffer = Buffer.alloc(0);
  #first = true;
  /** Within a line that was refused for its length. */
  #passingOver = false;

  /** Records whose line ends within these bytes. */
  cut(piece: Buffer): Offer[] {
    const out: Offer[] = [];
    let bytes = this.#rest.length === 0 ? piece : Buffer.concat([this.#rest, piece]);
    if (this.#first && bytes.length >= 3) {
      this.#first = false;
      // A byte order mark says nothing in UTF-8.
      if (bytes[0] === 0xef && bytes[1] === 0xbb && bytes[2] === 0xbf) bytes = bytes.subarray(3);
    }
    let from = 0;
    for (let end = bytes.indexOf(NEWLINE); end >= 0; end = bytes.indexOf(NEWLINE, from)) {
      if (this.#passingOver) this.#passingOver = false;
      else this.#offer(bytes.subarray(from, end), out);
      from = end + 1;
    }
    this.#keep(bytes.subarray(from), out);
    return out;
  }

  /** The last line, when it does not end with a line break. */
  end(): Offer[] {
    const out: Offer[] = [];
    if (this.#rest.length > 0 && !this.#passingOver) this.#offer(this.#rest, out);
    this.#rest = Buffer.alloc(0);
    return out;
  }

  #offer(line: Buffer, out: Offer[]): void {
    this.lines++;
    const end = line[line.length - 1] === RETURN ? line.length - 1 : line.length;
    if (end > 0) out.push(offerOf(line.subarray(0, end), this.lines));
  }

  #keep(rest: Buffer, out: Offer[]): void {
    if (this.#passingOver) {
      this.#rest = Buffer.alloc(0);
      return;
    }
    if (rest.length <= LINE_BYTES) {
      // A copy: the piece's memory is not held for the sake of its tail.
      this.#rest = Buffer.from(rest);
      return;
    }
    this.lines++;
    out.push(refused(Buffer.from(rest.subarray(0, RAW_BYTES)), this.lines, refusal("FEED-003 too-large"), rest.length));
    this.#passingOver = true;
    this.#rest = Buffer.alloc(0);
  }
}
