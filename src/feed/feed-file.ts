import { FeedBytes } from "./feed-bytes.ts";
import type { FeedLine } from "./feed-line.ts";
import { FeedUnreadable, unreadableCode } from "./feed-unreadable.ts";
import { LineCutter, type LineVisitor } from "./line-cutter.ts";

/**
 * A feed file: JSON Lines in arrival order, plain, gzip or zstd told apart by the first bytes; `-` is standard input.
 * Iterate it once, batch by batch; in between it says how far it is.
 */
export class FeedFile implements AsyncIterable<FeedLine[]> {
  readonly path: string;
  private bytes: FeedBytes;
  private cutter = new LineCutter();

  constructor(path: string) {
    this.path = path;
    this.bytes = new FeedBytes(path);
  }

  /** Read so far, of the file as it lies on the disk. */
  get bytesRead(): number {
    return this.bytes.bytesRead;
  }

  /** Size on the disk; null where it is not known (standard input, a pipe), or not yet. */
  get bytesTotal(): number | null {
    return this.bytes.bytesTotal;
  }

  /** Lines read so far, blank ones included: lines - blankLines = lines handed on. */
  get lines(): number {
    return this.cutter.lines;
  }

  get blankLines(): number {
    return this.cutter.blank;
  }

  /** Throws FeedUnreadable, after all that could be read was handed on. */
  async *[Symbol.asyncIterator](): AsyncGenerator<FeedLine[]> {
    for await (const piece of this.pieces()) {
      const batch = this.cutter.cut(piece);
      if (batch.length > 0) yield batch;
    }
    const last = this.cutter.end();
    if (last.length > 0) yield last;
  }

  /** Shows every line to a visitor. Throws FeedUnreadable, after all that could be read was shown. */
  async showTo(visitor: LineVisitor): Promise<void> {
    for await (const piece of this.pieces()) this.cutter.visit(piece, visitor);
    this.cutter.visitEnd(visitor);
  }

  private async *pieces(): AsyncGenerator<Buffer> {
    try {
      yield* this.bytes;
    } catch (cause) {
      // An unfinished last line is left out: the error says where the feed broke off.
      throw new FeedUnreadable(unreadableCode(cause), this.path, this.cutter.lines, this.bytes.bytesRead, cause);
    }
  }
}

/** Reads a feed file; `-` is standard input. Nothing is opened before the first batch is asked for. */
export function readFeed(path: string): FeedFile {
  return new FeedFile(path);
}
