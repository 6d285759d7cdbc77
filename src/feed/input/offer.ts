import { isUtf8 } from "node:buffer";
import { openLine } from "../feed-line.ts";
import { LINE_BYTES, MADE_ID_CHARS, RAW_BYTES, RECORD_BYTES } from "../limits.ts";
import { type Refusal, refusal } from "../reject.ts";

/** One record as it was offered to an input: told where to, not judged yet. */
export interface Offer {
  /** Its number in the request or the file, from 1. */
  line: number;
  /** Empty where it never said. */
  topic: string;
  /** As the sender gave it; used only for records that cannot be read, for any other follows from the record. */
  key: string;
  /** The record's JSON as it came; of what is no envelope, the beginning of the line. */
  value: Uint8Array;
  /** Length of the whole record in bytes. */
  bytes: number;
  /** Why it cannot be a record of any topic; null when it may be one. */
  refused: Refusal | null;
  /** The line it was cut from unopened; null where it was opened. */
  whole: Buffer | null;
  /** CloudEvents attributes, where it came as one. */
  headers?: Readonly<Record<string, string>>;
}

const TOPIC = Buffer.from('{"topic":"');
const KEY = Buffer.from('","key":"');
const VALUE = Buffer.from('","value":');
const OPEN = 123;
const CLOSE = 125;
const QUOTE = 34;
const BACKSLASH = 92;
const SPACE = 32;
const TILDE = 126;
/** A topic's name; longer ones are not known anyway. */
const TOPIC_BYTES = 64;

/** Opens a line of a feed file or of a request. Never throws. */
export function offerOf(line: Buffer, number: number): Offer {
  if (line.length > LINE_BYTES) return refused(line, number, refusal("FEED-003 too-large"));
  return usualOffer(line, number) ?? openedOffer(line, number);
}

/** A line that the feed could not even open. */
export function refused(line: Buffer, number: number, why: Refusal, bytes = line.length): Offer {
  return { line: number, topic: "", key: "", value: line.subarray(0, RAW_BYTES), bytes, refused: why, whole: null };
}

/**
 * The value's own bytes out of `{"topic":"...","key":"...","value":{...}}`, without opening it. What stands between is
 * judged as a record; should it be none, because the envelope goes on behind it, the line is opened as a whole instead.
 */
function usualOffer(line: Buffer, number: number): Offer | null {
  if (!at(line, TOPIC, 0)) return null;
  const topicEnd = plainEnd(line, TOPIC.length, TOPIC_BYTES);
  if (topicEnd < 0 || !at(line, KEY, topicEnd)) return null;
  const keyStart = topicEnd + KEY.length;
  const keyEnd = plainEnd(line, keyStart, MADE_ID_CHARS);
  if (keyEnd < 0 || !at(line, VALUE, keyEnd)) return null;
  const start = keyEnd + VALUE.length;
  const end = line.length - 1;
  if (line[start] !== OPEN || line[end] !== CLOSE || line[end - 1] !== CLOSE) return null;
  const value = line.subarray(start, end);
  return {
    line: number,
    topic: line.toString("latin1", TOPIC.length, topicEnd),
    key: line.toString("utf8", keyStart, keyEnd),
    value,
    bytes: value.length,
    refused: null,
    whole: line,
  };
}

function at(line: Buffer, word: Buffer, from: number): boolean {
  return line.length >= from + word.length && line.compare(word, 0, word.length, from, from + word.length) === 0;
}

/** Where a string of plain characters ends; -1 when it has others, or is longer than `most`. */
function plainEnd(line: Buffer, from: number, most: number): number {
  const last = Math.min(line.length, from + most + 1);
  for (let i = from; i < last; i++) {
    if (line[i] === QUOTE) return i;
    if (line[i] === BACKSLASH || line[i]! < SPACE || line[i]! > TILDE) return -1;
  }
  return -1;
}

/** Any other envelope: fields in another order, more of them, the value as an escaped string. */
export function openedOffer(line: Buffer, number: number): Offer {
  if (!isUtf8(line)) return refused(line, number, refusal("FEED-001 not-utf8"));
  const opened = openLine(line.toString("utf8"), number, line.length);
  if (opened.refused !== null) return refused(line, number, opened.refused);
  const value = jsonBytes(opened.value);
  if (value === null || value.length > RECORD_BYTES) return refused(value ?? line, number, refusal("FEED-003 too-large"));
  return { line: number, topic: opened.topic, key: opened.key, value, bytes: value.length, refused: null, whole: null };
}

/** A parsed value as bytes; of a string, its text. null: nested too deeply to be written again. */
export function jsonBytes(value: unknown): Buffer | null {
  if (typeof value === "string") return Buffer.from(value);
  try {
    return Buffer.from(JSON.stringify(value) ?? "");
  } catch {
    return null;
  }
}
