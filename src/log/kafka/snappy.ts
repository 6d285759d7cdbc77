import { Unpacked } from "./lz4.ts";

/**
 * Snappy as Kafka's clients write it, unpacked: one raw block, or the Java clients' stream of blocks with their lengths
 * before them. Format of a block: github.com/google/snappy format_description.txt; of the stream: xerial/snappy-java,
 * SnappyOutputStream.
 */

const STREAM = Buffer.from([0x82, 0x53, 0x4e, 0x41, 0x50, 0x50, 0x59, 0x00]);
const STREAM_HEADER_BYTES = 16;

/** @throws RangeError for bytes that are no such block or stream */
export function snappyUnpacked(bytes: Buffer): Buffer {
  const out = new Unpacked(bytes.length * 4);
  if (!bytes.subarray(0, STREAM.length).equals(STREAM)) {
    unpackBlock(bytes, out);
    return out.all();
  }
  for (let at = STREAM_HEADER_BYTES; at < bytes.length; ) {
    const size = bytes.readInt32BE(at);
    const block = bytes.subarray(at + 4, at + 4 + size);
    if (size < 0 || block.length < size) throw new RangeError("a Snappy stream that is cut off");
    unpackBlock(block, out);
    at += 4 + size;
  }
  return out.all();
}

const LITERAL = 0;
const COPY_SHORT = 1;
const COPY_2 = 2;
/** Literal lengths from this on stand in one to four bytes of their own. */
const LONG_LITERAL = 60;

function unpackBlock(block: Uint8Array, out: Unpacked): void {
  let at = 0;
  // The length unpacked stands first, seven bits a byte; the buffer grows by itself.
  while ((block[at++]! & 0x80) !== 0);
  const number = (bytes: number): number => {
    let value = 0;
    for (let i = bytes - 1; i >= 0; i--) value = value * 256 + block[at + i]!;
    at += bytes;
    return value;
  };
  while (at < block.length) {
    const tag = block[at++]!;
    const kind = tag & 3;
    const upper = tag >> 2;
    if (kind === LITERAL) {
      const length = (upper < LONG_LITERAL ? upper : number(upper - LONG_LITERAL + 1)) + 1;
      out.copy(block, at, at + length);
      at += length;
    } else if (kind === COPY_SHORT) {
      const low = number(1);
      out.repeat(((tag & 0xe0) << 3) | low, (upper & 7) + 4);
    } else {
      out.repeat(number(kind === COPY_2 ? 2 : 4), upper + 1);
    }
  }
}
