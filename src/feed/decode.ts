import { isUtf8 } from "node:buffer";
import * as z from "zod";
import { axleReadings, axlesFault } from "./axle-readings.ts";
import { consists } from "./consists.ts";
import { deskActions } from "./desk-actions.ts";
import { countUnknown, countUnknownOfAxles, type Known, knownFields } from "./known-fields.ts";
import { RECORD_BYTES } from "./limits.ts";
import { line } from "./lines.ts";
import type { Axles, FeedRecord, Origin, Rejected, Topic } from "./record.ts";
import { refusalOf } from "./refusal-of.ts";
import { type Refusal, refusal, reject } from "./reject.ts";
import { siteReports } from "./site-reports.ts";
import { tick } from "./ticks.ts";

/** A record ready for the folds. Fields that the contract does not know were left out and counted. */
export interface Accepted {
  record: FeedRecord;
  unknownFields: number;
  rejected?: undefined;
}

export interface Refused {
  record?: undefined;
  unknownFields?: undefined;
  rejected: Rejected;
}

export type Decoded = Accepted | Refused;

/** The schemas of every inbound topic, by the record's `type`. */
export const inbound = {
  "axle-readings": { ...axleReadings, tick, line },
  "site-reports": { ...siteReports, tick, line },
  consists: { ...consists, tick, line },
  "desk-actions": { ...deskActions, tick, line },
} as const satisfies Record<Topic, Record<string, z.ZodType>>;

/** One schema, compiled once. */
interface Gate {
  schema: z.ZodType;
  known: Known | null;
}

const GATES: ReadonlyMap<string, ReadonlyMap<string, Gate>> = new Map(
  Object.entries(inbound).map(([topic, schemas]) => [
    topic,
    new Map(
      Object.entries(schemas as Record<string, z.ZodType>).map(([type, schema]) => [
        type,
        { schema: z.compile(schema), known: knownFields(schema) },
      ]),
    ),
  ]),
);

const axlesGate = GATES.get("axle-readings")!.get("axles")!;

/**
 * One record of a topic: its bytes, its text, or the value already parsed. A string is JSON text (also the escaped string
 * of a feed file). Never throws: whatever cannot be used comes back as a rejected record with its reason.
 */
export function decode(topic: string, value: unknown, origin: Origin): Decoded {
  const opened = typeof value === "object" && !(value instanceof Uint8Array) ? value : open(value);
  if (opened instanceof Closed) return { rejected: reject(opened.why, value, origin) };
  return decodeValue(topic, opened, value, origin);
}

function decodeValue(topic: string, value: unknown, raw: unknown, origin: Origin): Decoded {
  const type = (value as { type?: unknown } | null)?.type;
  if (type === "axles" && topic === "axle-readings") return decodeAxles(value, raw, origin);
  const gates = GATES.get(topic);
  if (gates === undefined) return { rejected: reject(refusal("FEED-005 unknown-topic"), raw, origin) };
  if (typeof value !== "object" || value === null || Array.isArray(value)) {
    return { rejected: reject(refusal("FEED-006 not-an-object"), raw, origin) };
  }
  const gate = typeof type === "string" ? gates.get(type) : undefined;
  if (gate === undefined) return { rejected: reject(refusal("FEED-007 unknown-type", "type", [...gates.keys()].join(" | ")), raw, origin) };
  const parsed = gate.schema.safeParse(value);
  if (!parsed.success) return { rejected: reject(refusalOf(parsed.error.issues, value), raw, origin) };
  return { record: parsed.data as FeedRecord, unknownFields: countUnknown(gate.known, value) };
}

/** The way of nearly every record: validated where it lies, copied only to leave unknown fields behind. */
function decodeAxles(value: unknown, raw: unknown, origin: Origin): Decoded {
  const why = axlesRefusal(value);
  if (why !== null) return { rejected: reject(why, raw, origin) };
  const record = value as Axles;
  const unknownFields = countUnknownOfAxles(record);
  return { record: unknownFields === 0 ? record : (axlesGate.schema.parse(value) as Axles), unknownFields };
}

function axlesRefusal(value: unknown): Refusal | null {
  if (!axlesGate.schema.validate(value)) return refusalOf(axlesGate.schema.safeParse(value).error?.issues ?? [], value);
  const record = value as Axles;
  const fault = axlesFault(record);
  if (fault === null) return null;
  if (fault === "first") return refusal("FEED-010 out-of-bounds", "first", "a last axle of at most 2000");
  return refusal("FEED-013 unequal-columns", fault, `${record.ms.length} values, as many as in \`ms\``);
}

/** A payload that could not be opened as JSON. */
class Closed {
  why: Refusal;
  constructor(why: Refusal) {
    this.why = why;
  }
}

function open(value: unknown): unknown {
  if (value === undefined) return new Closed(refusal("FEED-002 not-json"));
  if (typeof value !== "string" && !(value instanceof Uint8Array)) return value;
  const length = typeof value === "string" ? Buffer.byteLength(value) : value.byteLength;
  if (length > RECORD_BYTES) return new Closed(refusal("FEED-003 too-large"));
  if (typeof value !== "string" && !isUtf8(value)) return new Closed(refusal("FEED-001 not-utf8"));
  try {
    return JSON.parse(typeof value === "string" ? value : Buffer.from(value.buffer, value.byteOffset, value.byteLength).toString("utf8"));
  } catch {
    return new Closed(refusal("FEED-002 not-json"));
  }
}
