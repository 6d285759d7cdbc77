import { isUtf8 } from "node:buffer";
import { RAW_BYTES } from "./limits.ts";
import type { Origin, Rejected } from "./record.ts";

/** Every refusal of the feed: its stable code and name, what was expected in general, and what to do. */
export const REFUSALS = {
  "FEED-001 not-utf8": {
    expected: "UTF-8 text",
    advice: "Have the sender write UTF-8; the bytes are kept here in base64.",
  },
  "FEED-002 not-json": {
    expected: "one complete JSON value",
    advice: "Look at the raw text: usually a record cut short in transmission, or two run together.",
  },
  "FEED-003 too-large": {
    expected: "a record of at most 256 KiB",
    advice: "Send fewer axles (at most 64) or vehicles (at most 1,000) in a record.",
  },
  "FEED-004 not-an-envelope": {
    expected: 'a line {"topic": "...", "key": "...", "value": {...}}',
    advice: "Check that the file is a feed file: one envelope a line, not bare values and not one array.",
  },
  "FEED-005 unknown-topic": {
    expected: "axle-readings | site-reports | consists | desk-actions",
    advice: "Correct the topic in the sender or leave the records out of the feed.",
  },
  "FEED-006 not-an-object": {
    expected: "a JSON object",
    advice: "Send one record as one JSON object a message.",
  },
  "FEED-007 unknown-type": {
    expected: "a `type` that this topic carries",
    advice: "Correct `type`, or the topic that the record was sent to.",
  },
  "FEED-008 missing-field": {
    expected: "a field that every such record has",
    advice: "Have the sender add the field; a reading that could not be taken is null, not left out.",
  },
  "FEED-009 wrong-type": {
    expected: "another type of value",
    advice: "Correct the sender: numbers are JSON numbers, never text; not measured is null where the contract allows it.",
  },
  "FEED-010 out-of-bounds": {
    expected: "a value inside the physical bounds of the contract",
    advice: "Check the device and the unit it sends in; a reading that could not be taken is null, never a number of its own.",
  },
  "FEED-011 not-an-id": {
    expected: "1 to 64 characters of A-Z a-z 0-9 . _ -",
    advice: "Correct the id in the sender; sites, tracks and passes are named as in the line file.",
  },
  "FEED-012 not-a-time": {
    expected: "RFC 3339 in UTC, e.g. 2026-03-04T05:06:07.000Z",
    advice: "Send a real day between 1970 and 2199, in UTC, ending in Z.",
  },
  "FEED-013 unequal-columns": {
    expected: "columns of equal length",
    advice: "Send one value an axle in every column, null where there is none, or leave an optional column out altogether.",
  },
  "FEED-014 unknown-word": {
    expected: "one of the contract's words",
    advice: "Correct the word in the sender.",
  },
  "FEED-015 too-many": {
    expected: "a list within the contract's length",
    advice: "Split the record, or leave out what the contract has no room for.",
  },
  "FEED-016 not-a-text": {
    expected: "text without control characters, within the contract's length",
    advice: "Shorten or clean the text.",
  },
  "FEED-017 no-subject": {
    expected: "a `warning` or a `site`",
    advice: "Say which warning or which site the action is about.",
  },
} as const satisfies Record<string, { expected: string; advice: string }>;

export type RefusalReason = keyof typeof REFUSALS;

/** Why a record is refused, before it is said where the record came from. */
export interface Refusal {
  reason: string;
  path: string;
  expected: string;
  advice: string;
}

/** A refusal in the feed's own words; `expected` when it can be said more exactly than the reason does. */
export function refusal(reason: RefusalReason, path = "", expected: string = REFUSALS[reason].expected): Refusal {
  return { reason, path, expected, advice: REFUSALS[reason].advice };
}

/**
 * The record to publish for a refusal, whichever room refused. Its id follows from where the record came from alone, so
 * a repeat can be told. `raw` is the record's own text or bytes, or the parsed value when the text is gone.
 */
export function reject(why: Refusal, raw: unknown, origin: Origin): Rejected {
  const { topic, partition, offset } = origin;
  return {
    id: `${topic}/${partition}@${offset}`,
    version: 1,
    topic,
    partition,
    offset,
    reason: why.reason,
    path: why.path,
    expected: why.expected,
    advice: why.advice,
    ...keptRaw(raw),
  };
}

/** The first RAW_BYTES of a record: as text when it is UTF-8, else in base64. `rawBytes` is the whole length. */
function keptRaw(raw: unknown): Pick<Rejected, "raw" | "rawEncoding" | "rawBytes"> {
  const bytes = raw instanceof Uint8Array ? raw : Buffer.from(textOf(raw), "utf8");
  const kept = Buffer.from(bytes.buffer, bytes.byteOffset, Math.min(bytes.byteLength, RAW_BYTES));
  const whole = kept.subarray(0, wholeCharacters(kept, bytes.byteLength > RAW_BYTES));
  if (isUtf8(whole)) return { raw: whole.toString("utf8"), rawEncoding: "utf-8", rawBytes: bytes.byteLength };
  return { raw: kept.toString("base64"), rawEncoding: "base64", rawBytes: bytes.byteLength };
}

function textOf(raw: unknown): string {
  if (typeof raw === "string") return raw;
  try {
    return JSON.stringify(raw) ?? "";
  } catch {
    // Lists in lists in lists can be read but not written again.
    return "(nested too deeply to be written again)";
  }
}

/** Length without a multi-byte character that the cut went through (at most 3 bytes back). */
function wholeCharacters(bytes: Buffer, cut: boolean): number {
  if (!cut) return bytes.length;
  let at = bytes.length;
  while (at > bytes.length - 4 && at > 0 && (bytes[at - 1]! & 0xc0) === 0x80) at--;
  // The byte before the continuation bytes starts the character: leave it out too when it is a multi-byte one.
  return at > 0 && bytes[at - 1]! >= 0xc0 ? at - 1 : bytes.length;
}
