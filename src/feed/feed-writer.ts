import { once } from "node:events";
import { createWriteStream } from "node:fs";
import type { Writable } from "node:stream";
import { pipeline } from "node:stream/promises";
import { constants, createGzip, createZstdCompress } from "node:zlib";

/** Lines are handed to the stream in blocks of about this size. */
const BLOCK_CHARS = 64 * 1024;
/** Levels that cost little time: a feed is written once and small enough. */
const GZIP_LEVEL = 6;
const ZSTD_LEVEL = 9;
/** With its checksum, so that a damaged file is noticed and not read as other numbers. */
const ZSTD = { [constants.ZSTD_c_compressionLevel]: ZSTD_LEVEL, [constants.ZSTD_c_checksumFlag]: 1 };

/** Writes a feed file, plain, `.gz` or `.zst` by its name, lines in the order of the calls. */
export interface FeedWriter {
  /** Lines written so far. */
  lines: number;
  /** One envelope. Wait for the promise when there is one: the disk is behind. */
  write(topic: string, key: string, value: unknown): Promise<void> | undefined;
  /** A line as it is, without its line break: for what is deliberately no envelope. */
  writeRaw(line: string): Promise<void> | undefined;
  /** Resolves when everything is on the disk; rejects when writing failed. */
  close(): Promise<void>;
}

/** Creates (or replaces) the file. The same lines give the same bytes on the same zlib. */
export function openFeedWriter(path: string): FeedWriter {
  const file = createWriteStream(path);
  const pack = packer(path);
  const first: Writable = pack ?? file;
  const done = pack === null ? once(file, "close").then(() => {}) : pipeline(pack, file);
  // Reported by close(); without a handler before it, an early failure would end the process.
  done.catch(() => {});
  return new BlockWriter(first, done);
}

function packer(path: string) {
  if (path.endsWith(".gz")) return createGzip({ level: GZIP_LEVEL });
  if (path.endsWith(".zst")) return createZstdCompress({ params: ZSTD });
  return null;
}

class BlockWriter implements FeedWriter {
  lines = 0;
  private block = "";
  private stream: Writable;
  private done: Promise<void>;
  private draining: Promise<void> | undefined;

  constructor(stream: Writable, done: Promise<void>) {
    this.stream = stream;
    this.done = done;
  }

  write(topic: string, key: string, value: unknown): Promise<void> | undefined {
    return this.writeRaw(JSON.stringify({ topic, key, value }));
  }

  writeRaw(line: string): Promise<void> | undefined {
    this.lines++;
    this.block += line + "\n";
    if (this.block.length < BLOCK_CHARS) return undefined;
    if (this.flush()) return undefined;
    // One wait for all who do not wait themselves: a listener each would be told as a leak.
    if (this.draining === undefined) {
      this.draining = Promise.race([once(this.stream, "drain"), this.done])
        .then(() => {})
        .finally(() => {
          this.draining = undefined;
        });
      // Reported by close() as well, to who does not wait here.
      this.draining.catch(() => {});
    }
    return this.draining;
  }

  async close(): Promise<void> {
    this.flush();
    this.stream.end();
    await this.done;
  }

  private flush(): boolean {
    const block = this.block;
    this.block = "";
    return this.stream.write(block);
  }
}
