import { isUtf8 } from "node:buffer";
import type { IncomingHttpHeaders } from "node:http";
import { BATCH, binaryOffer, isBinary, STRUCTURED, structuredOffer } from "./cloud-event.ts";
import { type Offer, offerOf, openedOffer } from "./offer.ts";
import { RawLines } from "./raw-lines.ts";

/** Records a request may hold: as many as are answered one by one. */
export const MOST_REQUEST_RECORDS = 10_000;

/** A request that is turned away as a whole; nothing of it was taken. */
export class RequestRefused extends Error {
  readonly status: number;
  readonly reason: string;
  readonly advice: string;

  constructor(status: number, reason: string, advice: string) {
    super(`${reason}: ${advice}`);
    this.name = "RequestRefused";
    this.status = status;
    this.reason = reason;
    this.advice = advice;
  }
}

const LINES = new Set(["application/x-ndjson", "application/ndjson", "application/jsonl", "application/x-jsonlines"]);
const NEWLINE = 10;

/**
 * The records of a request: one envelope (`application/json`), one a line (`application/x-ndjson`), or CloudEvents.
 * @throws RequestRefused
 */
export function offersOf(headers: IncomingHttpHeaders, body: Buffer): Offer[] {
  if (body.length === 0) throw new RequestRefused(400, "FEED-400 empty", "Send at least one record.");
  if (isBinary(headers)) return [binaryOffer(headers, body)];
  const type = (headers["content-type"] ?? "").split(";", 1)[0]!.trim().toLowerCase();
  if (LINES.has(type)) return offersOfLines(body);
  if (type === "application/json") return [offerOfDocument(body)];
  if (type === STRUCTURED) return [structuredOffer(parsed(body), 1)];
  if (type === BATCH) return offersOfBatch(body);
  throw new RequestRefused(
    415,
    "FEED-415 unknown-type",
    `Content-Type is application/x-ndjson, application/json, ${STRUCTURED}, ${BATCH}, or anything with ce- headers.`,
  );
}

function offersOfLines(body: Buffer): Offer[] {
  let lines = 1;
  for (let at = body.indexOf(NEWLINE); at >= 0; at = body.indexOf(NEWLINE, at + 1)) lines++;
  if (lines > MOST_REQUEST_RECORDS + 1) throw tooMany();
  const cutter = new RawLines();
  const offers = [...cutter.cut(body), ...cutter.end()];
  if (offers.length > MOST_REQUEST_RECORDS) throw tooMany();
  if (offers.length === 0) throw new RequestRefused(400, "FEED-400 empty", "Send at least one record.");
  return offers;
}

/** One envelope, on one line or on several. */
function offerOfDocument(body: Buffer): Offer {
  const line = body.toString("latin1").trimEnd().length;
  const whole = body.subarray(0, line);
  return whole.includes(NEWLINE) ? openedOffer(whole, 1) : offerOf(whole, 1);
}

function offersOfBatch(body: Buffer): Offer[] {
  const events = parsed(body);
  if (!Array.isArray(events) || events.length === 0) throw new RequestRefused(400, "FEED-400 no-batch", "Send a JSON array of events.");
  if (events.length > MOST_REQUEST_RECORDS) throw tooMany();
  return events.map((event, i) => structuredOffer(event, i + 1));
}

function parsed(body: Buffer): unknown {
  if (!isUtf8(body)) throw new RequestRefused(400, "FEED-400 not-utf8", "The body is not UTF-8; nothing was taken.");
  try {
    return JSON.parse(body.toString("utf8"));
  } catch {
    throw new RequestRefused(400, "FEED-400 not-json", "The body is no complete JSON document; nothing was taken.");
  }
}

function tooMany(): RequestRefused {
  return new RequestRefused(413, "FEED-413 too-many", `Send at most ${MOST_REQUEST_RECORDS} records in a request.`);
}
