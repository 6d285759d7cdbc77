import { createHmac } from "node:crypto";
import type { LogRecord } from "../log/log.ts";

/** One version of one warning as it is sent; the same bytes at every attempt and after every restart. */
export interface Message {
  id: string;
  body: string;
}

/** What the receiver may tell messages apart by. */
const TYPE = "warning.published";

/**
 * The message of a record of the topic `warnings`; null when it is none. Form of the Standard Webhooks specification 1.0.0:
 * `type`, `timestamp` of the event, and the warning itself as `data`, byte for byte.
 */
export function messageOf(record: LogRecord): Message | null {
  const text = Buffer.from(record.value.buffer, record.value.byteOffset, record.value.byteLength).toString("utf8");
  let warning: { id?: unknown; version?: unknown; time?: unknown } | null;
  try {
    warning = JSON.parse(text) as typeof warning;
  } catch {
    return null;
  }
  const { id, version, time } = warning ?? {};
  if (typeof id !== "string" || typeof version !== "number" || typeof time !== "string") return null;
  return { id: messageId(id, version), body: `{"type":"${TYPE}","timestamp":${JSON.stringify(time)},"data":${text}}` };
}

/**
 * `<warning id>/v<version>`: a receiver that keeps it sees every version once. Full stops are percent-encoded, because they
 * separate what is signed and must not be in an id (Standard Webhooks 1.0.0, "Signature scheme").
 */
export function messageId(id: string, version: number): string {
  return `${id.replaceAll("%", "%25").replaceAll(".", "%2E")}/v${version}`;
}

/** The headers of one attempt at `nowMs`, signed with every key. */
export function signedHeaders({ id, body }: Message, keys: readonly Buffer[], nowMs: number): Record<string, string> {
  const timestamp = Math.floor(nowMs / 1_000);
  const signed = `${id}.${timestamp}.${body}`;
  return {
    "content-type": "application/json",
    "webhook-id": id,
    "webhook-timestamp": String(timestamp),
    "webhook-signature": keys.map((key) => `v1,${createHmac("sha256", key).update(signed).digest("base64")}`).join(" "),
  };
}
