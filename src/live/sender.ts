import { readFileSync } from "node:fs";
import { setTimeout as sleep } from "node:timers/promises";
import { readFeed } from "../feed/feed-file.ts";

/** Records in one request, at most, and how long they are gathered. */
const REQUEST_RECORDS = 1_000;
const GATHER_MS = 200;
/** A receiver that is away, as for a restart, is tried again. */
const AGAIN_MS = 1_000;
const REQUEST_WITHIN_MS = 30_000;

export interface SendOptions {
  feed: string;
  /** Address of `POST /feed`. */
  to: string;
  token: string;
  /** How many times faster than the feed's own time. */
  speed: number;
  /** Moves every time in the records, so that the first of them is now. */
  fromNow: boolean;
  /** Ends the sending. */
  signal: AbortSignal;
  say: (words: string) => void;
}

/**
 * Plays a feed file to a running process as its sites would have sent it: in its order, at its own pace or faster. A record
 * without a time of its own (axles) goes right after the one before it. Resolves with how many were taken.
 */
export async function sendFeed({ feed, to, token, speed, fromNow, signal, say }: SendOptions): Promise<number> {
  let taken = 0;
  let waiting: string[] = [];
  let firstMs = Number.NaN;
  let shiftMs = 0;
  const beganMs = Date.now();
  const flush = async () => {
    if (waiting.length === 0) return;
    const body = waiting.join("");
    taken += waiting.length;
    waiting = [];
    await post(to, token, body, signal, say);
  };
  for await (const batch of readFeed(feed)) {
    for (const { topic, key, value } of batch) {
      if (signal.aborted) return taken;
      const atMs = timeOf(value);
      if (Number.isNaN(firstMs) && !Number.isNaN(atMs)) {
        firstMs = atMs;
        shiftMs = fromNow ? beganMs - atMs : 0;
      }
      // A clock that is a year off is sent as it is and waited for by nobody.
      const dueMs = beganMs + (atMs - firstMs) / speed;
      if (dueMs > Date.now() + GATHER_MS && dueMs < Date.now() + 3_600_000) {
        await flush();
        await sleep(dueMs - Date.now(), undefined, { signal }).catch(() => {});
      }
      waiting.push(`${JSON.stringify({ topic, key, value: moved(value, shiftMs) })}\n`);
      if (waiting.length >= REQUEST_RECORDS) await flush();
    }
  }
  await flush();
  return taken;
}

/** Sends until it is taken: a refusal is final for its records and said, everything else is tried again. */
async function post(to: string, token: string, body: string, signal: AbortSignal, say: (words: string) => void): Promise<void> {
  while (!signal.aborted) {
    let waitMs = AGAIN_MS;
    try {
      const answer = await fetch(to, {
        method: "POST",
        headers: { authorization: `Bearer ${token}`, "content-type": "application/x-ndjson" },
        body,
        signal: AbortSignal.any([signal, AbortSignal.timeout(REQUEST_WITHIN_MS)]),
      });
      const text = await answer.text();
      if (answer.ok || answer.status === 422) return;
      if (answer.status !== 429 && answer.status < 500) throw new Error(`${answer.status}: ${text.slice(0, 300)}`);
      waitMs = Number(answer.headers.get("retry-after") ?? AGAIN_MS / 1_000) * 1_000;
      say(`${to} asks to wait (${answer.status})`);
    } catch (error) {
      if (error instanceof Error && /^4\d\d:/.test(error.message)) throw error;
      if (!signal.aborted) say(`${to} is not reached: ${error instanceof Error ? error.message : String(error)}`);
    }
    await sleep(waitMs, undefined, { signal }).catch(() => {});
  }
}

function timeOf(value: unknown): number {
  const { time } = (value ?? {}) as { time?: unknown };
  return typeof time === "string" ? Date.parse(time) : Number.NaN;
}

/** The record with its time moved; what has none, or one that cannot be read, as it is. */
function moved(value: unknown, shiftMs: number): unknown {
  const atMs = timeOf(value);
  if (shiftMs === 0 || Number.isNaN(atMs)) return value;
  return { ...(value as object), time: new Date(atMs + shiftMs).toISOString() };
}

/** `env:NAME` or `file:PATH`. @throws Error naming the reference, never what is in it */
export function tokenOf(reference: string): string {
  const [, kind, place] = /^(env|file):(.+)$/s.exec(reference) ?? [];
  if (kind === undefined) throw new Error("the token is given as env:NAME or file:PATH, never as itself");
  const token = kind === "env" ? process.env[place!] : readFileSync(place!, "utf8").trim();
  if (token === undefined || token === "") throw new Error(`the token: ${reference} is not set or empty`);
  return token;
}
