import { promisify } from "node:util";
import { constants, gunzipSync, type ZlibOptions, type ZstdOptions, zstdCompress, zstdDecompressSync } from "node:zlib";
import { lz4Unpacked } from "./lz4.ts";
import type { Packing } from "./record-batch.ts";
import { snappyUnpacked } from "./snappy.ts";

/** Numbers of Kafka's compressions, as they stand in a batch. */
const GZIP = 1;
const SNAPPY = 2;
const LZ4 = 3;
export const ZSTD = 4;

/** A batch of less is sent as it is, as nearly all live ones are: a warning must not wait for what saves little. */
export const PACKED_FROM_BYTES = 64 * 1024;

/** The quickest level makes a fifth of passes' text; what the slower ones save is not worth their time. */
const LEVEL = { [constants.ZSTD_c_compressionLevel]: 1 };

/** In another thread. */
const aside = promisify(zstdCompress) as (bytes: Buffer, options: ZstdOptions) => Promise<Buffer>;

/** What comes out of a batch may be so much, at most: sixty times a batch of a megabyte. More is refused as one record, unread. */
export const MOST_BYTES = 64 * 1024 * 1024;

/** Room for what comes out is made in pieces; one that takes all of it is neither filled twice nor put together. */
const LEAST_PIECE_BYTES = 4 * 1024;
const MOST_PIECE_BYTES = 1024 * 1024;
/** How many times as long text of passes is as what it is packed to, at most and usually. */
const MOST_SAVED = 8;
const USUALLY_SAVED = 3;

/** By the number of the compression. */
export const UNPACKERS: Record<number, (bytes: Buffer) => Buffer> = {
  [GZIP]: (bytes) => gunzipSync(bytes, unpacking(bytes)),
  [SNAPPY]: snappyUnpacked,
  [LZ4]: lz4Unpacked,
  [ZSTD]: (bytes) => zstdDecompressSync(bytes, unpacking(bytes)),
};

function unpacking({ length }: Buffer): ZlibOptions & ZstdOptions {
  return { maxOutputLength: MOST_BYTES, chunkSize: pieceOf(length * MOST_SAVED) };
}

function packing({ length }: Buffer): ZstdOptions {
  return { params: LEVEL, chunkSize: pieceOf(length / USUALLY_SAVED) };
}

function pieceOf(bytes: number): number {
  return Math.ceil(Math.min(MOST_PIECE_BYTES, Math.max(LEAST_PIECE_BYTES, bytes)));
}

/** All of Kafka's compressions can be read: what a sender chose must not be able to stop a partition. */
export function unpackerOf(codec: number): ((bytes: Buffer) => Buffer) | undefined {
  return UNPACKERS[codec];
}

export const zstdPacking: Packing = {
  codec: ZSTD,
  pack: (bytes) => aside(bytes, packing(bytes)),
};
