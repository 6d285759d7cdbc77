/**
 * LZ4 frames as Kafka's clients write them, unpacked. Formats: github.com/lz4/lz4 doc/lz4_Frame_format.md (v1.6) and
 * doc/lz4_Block_format.md. Checksums are not looked at: the broker has checked the batch's CRC.
 */

const MAGIC = 0x184d2204;
const HAS_BLOCK_CHECKSUM = 0x10;
const HAS_CONTENT_SIZE = 0x08;
const HAS_DICTIONARY = 0x01;
const STORED = 0x80000000;
const MIN_MATCH = 4;

/** Sizes of a block that a frame may declare, by their code. */
const BLOCK_BYTES: Readonly<Record<number, number>> = { 4: 64 * 1024, 5: 256 * 1024, 6: 1024 * 1024, 7: 4 * 1024 * 1024 };

/** What comes out may be so much, at most: more than any broker takes in one batch by far. */
const MOST_BYTES = 64 * 1024 * 1024;

/** @throws RangeError for bytes that are no such frame */
export function lz4Unpacked(frame: Buffer): Buffer {
  if (frame.length < 7 || frame.readUInt32LE(0) !== MAGIC) throw new RangeError("no LZ4 frame");
  const flags = frame[4]!;
  const blockBytes = BLOCK_BYTES[(frame[5]! >> 4) & 7];
  if (blockBytes === undefined || (flags & HAS_DICTIONARY) !== 0) throw new RangeError("an LZ4 frame that Kafka's clients do not write");
  let at = 7 + ((flags & HAS_CONTENT_SIZE) === 0 ? 0 : 8);
  const trailer = (flags & HAS_BLOCK_CHECKSUM) === 0 ? 0 : 4;
  const out = new Unpacked(frame.length * 4);
  for (;;) {
    const word = frame.readUInt32LE(at);
    at += 4;
    if (word === 0) return out.all();
    const size = word & ~STORED;
    const block = frame.subarray(at, at + size);
    if (block.length < size) throw new RangeError("an LZ4 frame that is cut off");
    out.reserve(blockBytes);
    if ((word & STORED) === 0) unpackBlock(block, out);
    else out.copy(block, 0, block.length);
    at += size + trailer;
  }
}

function unpackBlock(block: Uint8Array, out: Unpacked): void {
  let at = 0;
  const length = (nibble: number): number => {
    let sum = nibble;
    if (nibble === 15) {
      let more: number;
      do {
        more = block[at++]!;
        sum += more;
      } while (more === 255);
    }
    return sum;
  };
  while (at < block.length) {
    const token = block[at++]!;
    const literals = length(token >> 4);
    out.copy(block, at, at + literals);
    at += literals;
    if (at >= block.length) return;
    const distance = block[at]! | (block[at + 1]! << 8);
    at += 2;
    out.repeat(distance, length(token & 15) + MIN_MATCH);
  }
}

/** Bytes that grow at the end and may repeat what they hold already; shared with Snappy. */
export class Unpacked {
  private bytes: Buffer;
  private size = 0;

  constructor(expected: number) {
    this.bytes = Buffer.allocUnsafe(Math.max(1_024, Math.min(expected, MOST_BYTES)));
  }

  reserve(more: number): void {
    const needed = this.size + more;
    if (needed <= this.bytes.length) return;
    if (needed > MOST_BYTES) throw new RangeError(`a compressed batch of more than ${MOST_BYTES} bytes`);
    const grown = Buffer.allocUnsafe(Math.min(MOST_BYTES, Math.max(needed, this.bytes.length * 2)));
    this.bytes.copy(grown, 0, 0, this.size);
    this.bytes = grown;
  }

  copy(from: Uint8Array, start: number, end: number): void {
    // Negated, so that a length made of bytes that are not there (NaN) is refused too.
    if (!(end <= from.length && start <= end)) throw new RangeError("compressed bytes that are cut off");
    this.reserve(end - start);
    this.bytes.set(from.subarray(start, end), this.size);
    this.size += end - start;
  }

  /** Appends `length` bytes, each the one `distance` before it: a distance shorter than the length repeats itself. */
  repeat(distance: number, length: number): void {
    if (!(distance > 0 && distance <= this.size && length > 0)) throw new RangeError("compressed bytes that point before their beginning");
    this.reserve(length);
    const { bytes, size } = this;
    if (distance >= length) bytes.copyWithin(size, size - distance, size - distance + length);
    else for (let i = 0; i < length; i++) bytes[size + i] = bytes[size + i - distance]!;
    this.size = size + length;
  }

  all(): Buffer {
    return this.bytes.subarray(0, this.size);
  }
}
