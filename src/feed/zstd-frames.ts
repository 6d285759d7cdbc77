/**
 * Where the frames of a zstd stream end (RFC 8878, 3.1). A file appended to by several writers holds several frames one
 * after another, and the decompressor of node:zlib goes on with the next frame only when a write begins with it: bytes
 * behind a frame's end in the same write are dropped without a word. So every write must end where a frame ends.
 *
 *   magic ─► header ─► (block header ─► block)* ─► checksum ─► magic ...
 *      └───► size of a skippable frame ─► its content ─► magic ...
 */
type Stage = "magic" | "header" | "block-header" | "block" | "checksum" | "skip-size" | "skip" | "unknown";

const MAGIC = 0xfd2fb528;
const SKIPPABLE_MAGIC = 0x184d2a50;
const SKIPPABLE_MASK = 0xfffffff0;
/** Bytes of the frame content size field by its flag, without and with a single segment. */
const CONTENT_SIZE_BYTES = [0, 2, 4, 8] as const;
const DICTIONARY_ID_BYTES = [0, 1, 2, 4] as const;
const RLE_BLOCK = 1;
const CHECKSUM_BYTES = 4;

export class ZstdFrames {
  private stage: Stage = "magic";
  private field = Buffer.alloc(4);
  private fieldLength = 0;
  private fieldWanted = 4;
  /** Bytes still to pass over in this stage. */
  private left = 0;
  private lastBlock = false;
  private checksum = false;

  /** The same bytes, cut where frames end. What is not zstd is passed on as it is: the decompressor refuses it. */
  split(bytes: Buffer): Buffer[] {
    const parts: Buffer[] = [];
    let from = 0;
    let at = 0;
    while (at < bytes.length && this.stage !== "unknown") {
      at = this.step(bytes, at);
      if (this.stage === "magic" && this.fieldLength === 0 && at > from) {
        parts.push(bytes.subarray(from, at));
        from = at;
      }
    }
    if (from < bytes.length) parts.push(bytes.subarray(from));
    return parts;
  }

  private step(bytes: Buffer, at: number): number {
    if (this.stage === "block" || this.stage === "skip" || this.stage === "checksum") {
      const passed = Math.min(this.left, bytes.length - at);
      this.left -= passed;
      if (this.left === 0) this.afterBytes();
      return at + passed;
    }
    const taken = Math.min(this.fieldWanted - this.fieldLength, bytes.length - at);
    bytes.copy(this.field, this.fieldLength, at, at + taken);
    this.fieldLength += taken;
    if (this.fieldLength === this.fieldWanted) this.afterField();
    return at + taken;
  }

  private afterField(): void {
    const field = this.field;
    this.fieldLength = 0;
    if (this.stage === "magic") {
      const magic = field.readUInt32LE(0);
      if (magic === MAGIC) this.want("header", 1);
      else if ((magic & SKIPPABLE_MASK) >>> 0 === SKIPPABLE_MAGIC) this.want("skip-size", 4);
      else this.stage = "unknown";
    } else if (this.stage === "skip-size") {
      this.pass("skip", field.readUInt32LE(0));
    } else if (this.stage === "header") {
      const descriptor = field[0]!;
      const singleSegment = (descriptor & 0x20) !== 0;
      this.checksum = (descriptor & 0x04) !== 0;
      const size = descriptor >> 6 === 0 && singleSegment ? 1 : CONTENT_SIZE_BYTES[(descriptor >> 6) as 0 | 1 | 2 | 3];
      // The rest of the header is passed over like a block that is not the last.
      this.lastBlock = false;
      this.pass("block", (singleSegment ? 0 : 1) + DICTIONARY_ID_BYTES[(descriptor & 3) as 0 | 1 | 2 | 3] + size);
    } else {
      const header = field.readUIntLE(0, 3);
      this.lastBlock = (header & 1) !== 0;
      this.pass("block", ((header >> 1) & 3) === RLE_BLOCK ? 1 : header >> 3);
    }
  }

  private afterBytes(): void {
    if (this.stage !== "block") this.want("magic", 4);
    else if (!this.lastBlock) this.want("block-header", 3);
    else if (this.checksum) this.pass("checksum", CHECKSUM_BYTES);
    else this.want("magic", 4);
  }

  private want(stage: Stage, bytes: number): void {
    this.stage = stage;
    this.fieldWanted = bytes;
  }

  private pass(stage: Stage, bytes: number): void {
    this.stage = stage;
    this.left = bytes;
    if (bytes === 0) this.afterBytes();
  }
}
