import { promisify } from "node:util";
import { constants, gunzipSync, zstdCompress, zstdCompressSync, zstdDecompressSync } from "node:zlib";
import { lz4Unpacked } from "./lz4.ts";
import type { Packing } from "./record-batch.ts";
import { snappyUnpacked } from "./snappy.ts";

/** Numbers of Kafka's compressions, as they stand in a batch. */
const GZIP = 1;
const SNAPPY = 2;
const LZ4 = 3;
export const ZSTD = 4;

/** A batch of less is sent as it is: a warning must not wait for what saves nothing. */
export const PACKED_FROM_BYTES = 8 * 1024;
/** From here on another thread packs; below, handing it over would take longer. */
const ASIDE_FROM_BYTES = 64 * 1024;

/** The quickest level makes a fifth of passes' text; what the slower ones save is not worth their time. */
const LEVEL = { params: { [constants.ZSTD_c_compressionLevel]: 1 } };

const aside = promisify(zstdCompress) as (bytes: Buffer, options: typeof LEVEL) => Promise<Buffer>;

/** What comes out of a batch may be so much, at most: more than any broker takes in one by far. */
const MOST = { maxOutputLength: 256 * 1024 * 1024 };

const UNPACKERS: Readonly<Record<number, (bytes: Buffer) => Buffer>> = {
  [GZIP]: (bytes) => gunzipSync(bytes, MOST),
  [SNAPPY]: snappyUnpacked,
  [LZ4]: lz4Unpacked,
  [ZSTD]: (bytes) => zstdDecompressSync(bytes, MOST),
};

/** All of Kafka's compressions can be read: what a sender chose must not be able to stop a partition. */
export function unpackerOf(codec: number): ((bytes: Buffer) => Buffer) | undefined {
  return UNPACKERS[codec];
}

export const zstdPacking: Packing = {
  codec: ZSTD,
  pack: async (bytes) => (bytes.length < ASIDE_FROM_BYTES ? zstdCompressSync(bytes, LEVEL) : await aside(bytes, LEVEL)),
};
