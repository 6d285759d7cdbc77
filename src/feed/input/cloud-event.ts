import type { IncomingHttpHeaders } from "node:http";
import { inbound } from "../decode.ts";
import { RECORD_BYTES } from "../limits.ts";
import { type Refusal, refusal } from "../reject.ts";
import { jsonBytes, type Offer, refused } from "./offer.ts";

/**
 * CloudEvents 1.0 over HTTP (cloudevents.io, "HTTP Protocol Binding for CloudEvents", version 1.0.2, section 3): structured
 * mode, one event as JSON; batches of such; binary mode, the attributes in `ce-` headers and the record as the body.
 */

export const STRUCTURED = "application/cloudevents+json";
export const BATCH = "application/cloudevents-batch+json";

/** Longest attribute that is kept; the specification asks for at least 64 KiB over all. */
const ATTRIBUTE_CHARS = 1_024;
const REQUIRED = ["specversion", "id", "source", "type"] as const;

/** Record type -> topic. A tick or a line is nobody's to send. */
const TOPIC_OF_TYPE: ReadonlyMap<string, string> = new Map(
  Object.entries(inbound).flatMap(([topic, types]) =>
    Object.keys(types)
      .filter((type) => type !== "tick" && type !== "line")
      .map((type) => [type, topic] as const),
  ),
);

/** One event in structured mode, parsed already. Never throws. */
export function structuredOffer(event: unknown, line: number): Offer {
  if (typeof event !== "object" || event === null || Array.isArray(event)) return refusedEvent(event, line, "", "a JSON object");
  const { data, data_base64, ...attributes } = event as Record<string, unknown>;
  const mistake = mistakeOf(attributes);
  if (mistake !== null) return refusedEvent(event, line, mistake.path, mistake.expected);
  if (data === undefined && typeof data_base64 !== "string") return refusedEvent(event, line, "data", "the record");
  const value = typeof data_base64 === "string" ? Buffer.from(data_base64, "base64") : jsonBytes(data);
  if (value === null) return refused(Buffer.alloc(0), line, refusal("FEED-003 too-large"));
  return offer(attributes as Record<string, string>, value, line);
}

function refusedEvent(event: unknown, line: number, path: string, expected: string): Offer {
  return refused(jsonBytes(event) ?? Buffer.alloc(0), line, notAnEvent(path, expected));
}

/** Whether a request carries an event in binary mode. */
export function isBinary(headers: IncomingHttpHeaders): boolean {
  return headers["ce-specversion"] !== undefined;
}

/** One event in binary mode. */
export function binaryOffer(headers: IncomingHttpHeaders, body: Buffer): Offer {
  const attributes: Record<string, unknown> = {};
  for (const [name, value] of Object.entries(headers)) {
    if (name.startsWith("ce-") && typeof value === "string") attributes[name.slice(3)] = percentDecoded(value);
  }
  const mistake = mistakeOf(attributes);
  if (mistake !== null) return refused(body, 1, mistake);
  return offer(attributes as Record<string, string>, body, 1);
}

function offer(attributes: Record<string, string>, value: Buffer, line: number): Offer {
  if (value.length > RECORD_BYTES) return refused(value, line, refusal("FEED-003 too-large"));
  const topic = topicOf(attributes.type!);
  const headers: Record<string, string> = { "content-type": "application/json" };
  for (const name of [...REQUIRED, "time", "subject"]) if (typeof attributes[name] === "string") headers[`ce_${name}`] = attributes[name];
  if (topic === null) return refused(value, line, refusal("FEED-005 unknown-topic", "type", [...TOPIC_OF_TYPE.keys()].join(" | ")));
  return { line, topic, key: "", value, bytes: value.length, refused: null, whole: null, headers };
}

/** `type` is the record's type, or ends with it behind a dot: `com.example.axles`. The topic's own name will do as well. */
function topicOf(type: string): string | null {
  const last = type.slice(type.lastIndexOf(".") + 1);
  return TOPIC_OF_TYPE.get(last) ?? (Object.hasOwn(inbound, last) ? last : null);
}

function mistakeOf(attributes: Record<string, unknown>): Refusal | null {
  for (const name of REQUIRED) {
    const value = attributes[name];
    if (typeof value !== "string" || value === "") return notAnEvent(name, "a text that is not empty");
    if (value.length > ATTRIBUTE_CHARS) return notAnEvent(name, `at most ${ATTRIBUTE_CHARS} characters`);
  }
  return attributes.specversion === "1.0" ? null : notAnEvent("specversion", "1.0");
}

function notAnEvent(path: string, expected: string): Refusal {
  return { reason: "FEED-019 not-an-event", path, expected, advice: "Send an event of CloudEvents 1.0, or the feed's own envelope." };
}

/** Section 3.1.3.2: what a header cannot hold is percent-encoded. */
function percentDecoded(value: string): string {
  try {
    return decodeURIComponent(value);
  } catch {
    return value;
  }
}
