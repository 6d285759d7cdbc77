import { createReadStream } from "node:fs";
import { stat } from "node:fs/promises";
import type { Readable, Transform } from "node:stream";
import { createGunzip, createZstdDecompress } from "node:zlib";
import { ZstdFrames } from "./zstd-frames.ts";

/** Bytes of a feed file, decompressed, in the order of the file. What came before a fault is given before the fault is thrown. */

/** Read at once from the disk. */
const READ_BYTES = 256 * 1024;
/** Given at once by a decompressor; when a stream breaks off, what it had not yet given is lost, so not too much. */
const INFLATED_BYTES = 64 * 1024;
const HEAD_BYTES = 4;

type Packing = "plain" | "gzip" | "zstd";

/** Told by the first bytes (RFC 1952, RFC 8878), never by the name. */
function packingOf(head: Buffer): Packing {
  if (head.length >= 2 && head[0] === 0x1f && head[1] === 0x8b) return "gzip";
  if (head.length < HEAD_BYTES) return "plain";
  const magic = head.readUInt32LE(0);
  return magic === 0xfd2fb528 || (magic & 0xfffffff0) >>> 0 === 0x184d2a50 ? "zstd" : "plain";
}

/** One open feed: its bytes, and how far it is read. */
export class FeedBytes {
  /** Size of the file on the disk; null for standard input and pipes. */
  bytesTotal: number | null = null;
  /** Of the file as it lies on the disk. */
  bytesRead = 0;
  private path: string;

  constructor(path: string) {
    this.path = path;
  }

  async *[Symbol.asyncIterator](): AsyncGenerator<Buffer> {
    if (this.path !== "-") {
      const status = await stat(this.path);
      this.bytesTotal = status.isFile() ? status.size : null;
    }
    const raw = this.path === "-" ? process.stdin : createReadStream(this.path, { highWaterMark: READ_BYTES });
    try {
      const pieces = this.counted(raw);
      const head = await takeHead(pieces);
      const packing = packingOf(head);
      const all = resumed(head, pieces);
      if (packing === "plain") yield* all;
      else if (packing === "gzip") yield* unpacked(createGunzip({ chunkSize: INFLATED_BYTES }), all, (piece) => [piece]);
      else {
        const frames = new ZstdFrames();
        yield* unpacked(createZstdDecompress({ chunkSize: INFLATED_BYTES }), all, (piece) => frames.split(piece));
      }
    } finally {
      if (this.path !== "-") raw.destroy();
    }
  }

  private async *counted(raw: Readable): AsyncGenerator<Buffer> {
    for await (const piece of drained(raw)) {
      this.bytesRead += piece.length;
      yield piece;
    }
  }
}

/** Enough pieces to tell the packing, as one; less when the feed is shorter. */
async function takeHead(pieces: AsyncGenerator<Buffer>): Promise<Buffer> {
  let head: Buffer = Buffer.alloc(0);
  while (head.length < HEAD_BYTES) {
    const next = await pieces.next();
    if (next.done) break;
    head = head.length === 0 ? next.value : Buffer.concat([head, next.value]);
  }
  return head;
}

async function* resumed(head: Buffer, rest: AsyncGenerator<Buffer>): AsyncGenerator<Buffer> {
  if (head.length > 0) yield head;
  yield* rest;
}

async function* unpacked(unpack: Transform, packed: AsyncGenerator<Buffer>, split: (piece: Buffer) => Buffer[]): AsyncGenerator<Buffer> {
  let broken: unknown = null;
  const feed = async () => {
    for await (const piece of packed) {
      for (const part of split(piece)) {
        if (unpack.destroyed) return;
        if (!unpack.write(part)) await roomIn(unpack);
      }
    }
    unpack.end();
  };
  const fed = feed().catch((error) => {
    // The disk failed, not the packing: give what was unpacked so far, then say so.
    broken = error;
    unpack.end();
  });
  try {
    yield* drained(unpack);
    await fed;
  } catch (error) {
    throw broken ?? error;
  } finally {
    unpack.destroy();
  }
  if (broken !== null) throw broken;
}

function roomIn(stream: Transform): Promise<void> {
  return new Promise((resolve) => {
    const done = () => {
      stream.off("drain", done);
      stream.off("close", done);
      resolve();
    };
    stream.on("drain", done);
    stream.on("close", done);
  });
}

/**
 * A stream's pieces. The stream's own iterator throws away what is already in its buffer when an error comes; this one
 * gives it first.
 */
async function* drained(stream: Readable): AsyncGenerator<Buffer> {
  let failure: { error: unknown } | null = null;
  let ended = false;
  let wake: (() => void) | null = null;
  const look = () => {
    wake?.();
    wake = null;
  };
  const onEnd = () => {
    ended = true;
    look();
  };
  const onError = (error: unknown) => {
    failure = { error };
    look();
  };
  stream.on("readable", look).on("end", onEnd).on("close", onEnd).on("error", onError);
  try {
    for (;;) {
      const piece = stream.read() as Buffer | string | null;
      if (piece !== null) yield typeof piece === "string" ? Buffer.from(piece) : piece;
      else if (failure !== null) throw (failure as { error: unknown }).error;
      else if (ended) return;
      else
        await new Promise<void>((resolve) => {
          wake = resolve;
        });
    }
  } finally {
    stream.off("readable", look).off("end", onEnd).off("close", onEnd);
    // The error listener stays: a stream destroyed while it opens still reports.
  }
}
