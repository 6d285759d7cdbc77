import { type Decoded, decode } from "./decode.ts";
import { RECORD_BYTES } from "./limits.ts";
import type { FeedRecord } from "./record.ts";
import type { Refusal } from "./reject.ts";
import { refusal, reject } from "./reject.ts";

/** One line of a feed file: the envelope opened, the record not yet judged. */
export interface FeedLine {
  /** In the file, from 1. */
  line: number;
  /** Length of the line; of one far over the limit, how much of it had come when it was refused. */
  bytes: number;
  /** `unknown` where the line is no envelope. */
  topic: string;
  key: string;
  /** Parsed, or a string that holds the record as text. The line itself where it is refused. */
  value: unknown;
  /** The value once more when it was read straight from the bytes and is validated already; else null: see decodeLine. */
  record: FeedRecord | null;
  /** Why the line is no envelope; null when it is one. */
  refused: Refusal | null;
  /** Where and when the log had it: of a recorded line, see replay/record-day.ts. */
  recorded?: Recorded;
}

/** Where a recorded line stood in the log, and when it came there, by the log's own clock. */
export interface Recorded {
  partition: number;
  offset: number;
  /** Milliseconds since the epoch; undefined where times are the feed's own. */
  arrivedMs: number | undefined;
}

/** Topic of what never told its topic. */
export const UNKNOWN_TOPIC = "unknown";

/** Opens the envelope of a line of text. */
export function openLine(text: string, line: number, bytes: number): FeedLine {
  let envelope: unknown;
  try {
    envelope = JSON.parse(text);
  } catch {
    return refusedLine(text, line, bytes, refusal("FEED-002 not-json"));
  }
  const { topic, key, value, partition, offset, arrivedMs } = (envelope ?? {}) as Partial<Record<string, unknown>>;
  if (typeof topic !== "string" || value === undefined || (key !== undefined && key !== null && typeof key !== "string")) {
    return refusedLine(text, line, bytes, refusal("FEED-004 not-an-envelope"));
  }
  const opened: FeedLine = { line, bytes, topic, key: (key as string | null | undefined) ?? "", value, record: null, refused: null };
  if (isCount(partition) && isCount(offset)) {
    opened.recorded = { partition, offset, arrivedMs: typeof arrivedMs === "number" ? arrivedMs : undefined };
  }
  return opened;
}

function isCount(value: unknown): value is number {
  return Number.isSafeInteger(value) && (value as number) >= 0;
}

export function refusedLine(raw: string | Uint8Array, line: number, bytes: number, refused: Refusal): FeedLine {
  return { line, bytes, topic: UNKNOWN_TOPIC, key: "", value: raw, record: null, refused };
}

/**
 * The record of a line, judged; `partition` tells feed files apart when several are read as one feed. The origin's offset
 * is the line number, but for a recorded line, which keeps its place in the log.
 */
export function decodeLine(line: FeedLine, partition = 0): Decoded {
  if (line.record !== null) return { record: line.record, unknownFields: 0 };
  const origin = { topic: line.topic, partition: line.recorded?.partition ?? partition, offset: line.recorded?.offset ?? line.line };
  // Of a line that is too long only the beginning was kept.
  if (line.refused !== null) return { rejected: { ...reject(line.refused, line.value, origin), rawBytes: line.bytes } };
  // A line is longer than its record, so only a long line needs a closer look.
  if (line.bytes > RECORD_BYTES && typeof line.value !== "string" && valueBytes(line.value) > RECORD_BYTES) {
    return { rejected: reject(refusal("FEED-003 too-large"), line.value, origin) };
  }
  const decoded = decode(line.topic, line.value, origin);
  // Nothing else keeps the key of a record whose topic nobody reads.
  if (decoded.rejected?.reason === "FEED-005 unknown-topic") {
    const { topic, key, value } = line;
    return { rejected: reject(refusal("FEED-005 unknown-topic"), { topic, key, value }, origin) };
  }
  return decoded;
}

/** Never throws: what is nested too deeply to be written again is too large as well. */
function valueBytes(value: unknown): number {
  try {
    return Buffer.byteLength(JSON.stringify(value));
  } catch {
    return Number.POSITIVE_INFINITY;
  }
}
