import type { FeedWriter } from "../feed/feed-writer.ts";
import type { Log, LogRecord } from "../log/log.ts";
import { INBOUND } from "../log/topics.ts";
import { PartitionReader } from "./partition-reader.ts";

/** Topics of a recorded day: all that came in, and the passes made of it in the order in which they were followed. */
export const RECORDED_TOPICS: readonly string[] = [...INBOUND, "passes"];

export interface RecordOptions {
  log: Pick<Log, "extent" | "tail">;
  /** By when the log took a record, in milliseconds since the epoch; `toMs` is exclusive. */
  fromMs: number;
  toMs: number;
  writer: FeedWriter;
  /** Whether lines keep when they came. Not where times are the feed's own, as when recorded days are fed in. */
  byArrival: boolean;
  topics?: readonly string[];
  /** Called now and then, with the lines written so far and how far in time they are. */
  onProgress?: (lines: number, arrivedMs: number) => void;
}

export interface RecordedDay {
  lines: number;
  firstMs: number;
  lastMs: number;
}

const PROGRESS_LINES = 10_000;

/**
 * A stretch of a log as a feed file, up to what was committed when it began: every partition in its order, the partitions
 * together in the order in which records came. At most one batch of each partition is held.
 */
export async function recordDay(options: RecordOptions): Promise<RecordedDay> {
  const { log, fromMs, toMs, writer } = options;
  const readers: PartitionReader[] = [];
  const day: RecordedDay = { lines: 0, firstMs: Number.NaN, lastMs: Number.NaN };
  try {
    for (const topic of options.topics ?? RECORDED_TOPICS) {
      for (const { partition, from, end } of await log.extent(topic)) {
        readers.push(await PartitionReader.open(log, { topic, partition, from, end, fromMs, toMs }));
      }
    }
    for (;;) {
      const first = await earliest(readers);
      if (first === null) return day;
      const record = first.take();
      await writer.writeRaw(lineOf(record, options.byArrival));
      day.lines++;
      if (day.lines === 1) day.firstMs = record.arrivedMs;
      day.lastMs = record.arrivedMs;
      if (day.lines % PROGRESS_LINES === 0) options.onProgress?.(day.lines, record.arrivedMs);
    }
  } finally {
    await Promise.all(readers.map((reader) => reader.close()));
  }
}

/** The reader whose next record came first; of those that came together, inbound before what was made of it. null: all are done. */
async function earliest(readers: readonly PartitionReader[]): Promise<PartitionReader | null> {
  let first: PartitionReader | null = null;
  let firstMs = Number.POSITIVE_INFINITY;
  for (const reader of readers) {
    if (!reader.isReady) await reader.ready();
    if (reader.nextMs < firstMs) {
      first = reader;
      firstMs = reader.nextMs;
    }
  }
  return first;
}

/** One envelope. A value that is no JSON object stays as it came, as an escaped string, and is refused again by a replay. */
export function lineOf({ topic, key, value, partition, offset, arrivedMs }: LogRecord, byArrival: boolean): string {
  const text = Buffer.from(value.buffer, value.byteOffset, value.byteLength).toString("utf8");
  const arrived = byArrival ? `,"arrivedMs":${arrivedMs}` : "";
  return `{"topic":${JSON.stringify(topic)},"key":${JSON.stringify(key ?? "")},"value":${onOneLine(text)},"partition":${partition},"offset":${offset}${arrived}}`;
}

function onOneLine(text: string): string {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    return JSON.stringify(text);
  }
  if (typeof value !== "object" || value === null) return JSON.stringify(text);
  // A line break between two fields is JSON, but would end the line.
  return text.includes("\n") || text.includes("\r") ? JSON.stringify(value) : text;
}
