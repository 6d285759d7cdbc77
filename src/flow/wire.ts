import * as z from "zod";
import { decode } from "../feed/decode.ts";
import { id, time } from "../feed/fields.ts";
import { calibration } from "../feed/outbound/calibrations.ts";
import { pass as passSchema } from "../feed/outbound/passes.ts";
import { warning } from "../feed/outbound/warnings.ts";
import type { Origin, Topic } from "../feed/record.ts";
import { type Refusal, refusal } from "../feed/reject.ts";
import type { LogRecord, NewRecord } from "../log/log.ts";
import type { Pass } from "../pass/pass.ts";
import { type PassRecord, passOfRecord } from "../pass/pass-record.ts";
import { rulesSchema } from "../warning/rule-set.ts";
import type { Followed } from "./followed.ts";
import { withLateness } from "./lateness.ts";

/** Inbound topic of what goes through `passes` unchanged, by its type. */
const TOPIC_OF: Readonly<Record<string, Topic>> = {
  consist: "consists",
  heartbeat: "site-reports",
  fault: "site-reports",
  equipment: "site-reports",
  "functional-test": "site-reports",
  "desk-action": "desk-actions",
  tick: "site-reports",
  line: "site-reports",
};

/** What a corridor wrote into its own input. */
const KEPT: Readonly<Record<string, z.ZodType>> = {
  calibration: z.compile(calibration),
  "kept-warning": z.compile(z.object({ type: z.literal("kept-warning"), warning })),
  "kept-watch": z.compile(z.looseObject({ type: z.literal("kept-watch"), time, state: z.looseObject({ version: z.literal(1) }) })),
  refused: z.compile(z.object({ type: z.literal("refused"), site: id, reason: z.string().max(200), time })),
  rules: z.compile(z.object({ type: z.literal("rules"), time, rules: rulesSchema })),
  "kept-mark": z.compile(z.object({ type: z.literal("kept-mark"), phase: z.enum(["begun", "ended"]), time })),
};

const passGate = z.compile(passSchema);

/**
 * A record of `passes`: an assembled pass (it has no `type`), or what else a corridor folds. Never throws: what cannot be
 * used comes back as a refusal. `byArrival`: when a record came says how old it is; not so where recorded days are fed in.
 */
export function decodeFollowed(
  record: LogRecord,
  byArrival = true,
): { followed: Followed; why?: undefined } | { followed?: undefined; why: Refusal } {
  let value: unknown;
  try {
    value = JSON.parse(textOf(record.value));
  } catch {
    return { why: refusal("FEED-002 not-json") };
  }
  if (typeof value !== "object" || value === null || Array.isArray(value)) return { why: refusal("FEED-006 not-an-object") };
  const { type } = value as { type?: unknown };
  if (type === undefined) return decodePass(value, record, byArrival);
  const topic = TOPIC_OF[String(type)];
  if (topic !== undefined) {
    const { topic: name, partition, offset } = record;
    const origin: Origin = { topic: name, partition, offset };
    const { record: followed, rejected } = decode(topic, value, origin);
    return rejected === undefined ? { followed: followed as Followed } : { why: rejected };
  }
  const kept = KEPT[String(type)];
  if (kept === undefined) return { why: refusal("FEED-007 unknown-type", "type") };
  return kept.safeParse(value).success ? { followed: value as Followed } : { why: refusal("FEED-009 wrong-type") };
}

/** A pass as a corridor folds it, which the record brought. */
export function followedPass(pass: Pass, { arrivedMs }: LogRecord, byArrival: boolean): { followed: Followed; why?: undefined } {
  return { followed: { type: "pass", pass: withLateness(pass, byArrival ? arrivedMs : Number.NaN) } };
}

function decodePass(
  value: object,
  from: LogRecord,
  byArrival: boolean,
): { followed: Followed; why?: undefined } | { followed?: undefined; why: Refusal } {
  if (!passGate.safeParse(value).success) return { why: refusal("FEED-009 wrong-type") };
  const record = value as PassRecord;
  const columns = [record.ms, record.gap, record.speed, record.left.bearing, record.right.bearing, record.left.wheel, record.right.wheel];
  if (columns.some((column) => column !== null && column.length !== record.axles)) return { why: refusal("FEED-013 unequal-columns") };
  return followedPass(passOfRecord(record), from, byArrival);
}

/** A record on its way out, with its CloudEvents attributes as headers: `id` is the deterministic one, `time` event time. `value`: JSON, or what becomes it. */
export function outbound(topic: string, key: string, type: string, id: string, time: string, value: unknown): NewRecord {
  const json = typeof value === "string" || value instanceof Uint8Array ? value : JSON.stringify(value);
  return { topic, key, value: json, headers: cloudEvent(type, id, time) };
}

/** CloudEvents 1.0, binary mode [P]: attributes as headers, the payload as it is. */
function cloudEvent(type: string, id: string, time: string): Record<string, string> {
  return {
    ce_specversion: "1.0",
    ce_type: `bearing-rise.${type}`,
    ce_source: "/bearing-rise",
    ce_id: id,
    ce_time: time,
    "content-type": "application/json",
  };
}

export function textOf(value: Uint8Array): string {
  return bufferOf(value).toString("utf8");
}

/** The same bytes, not a copy. */
export function bufferOf(value: Uint8Array): Buffer {
  return Buffer.isBuffer(value) ? value : Buffer.from(value.buffer, value.byteOffset, value.byteLength);
}
