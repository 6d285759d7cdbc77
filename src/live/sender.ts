import { readFileSync } from "node:fs";
import { setTimeout as sleep } from "node:timers/promises";
import { readFeed } from "../feed/feed-file.ts";

/** Records in one request, at most, and how long they are gathered. */
const REQUEST_RECORDS = 1_000;
const GATHER_MS = 200;
/** A receiver that is away, as for a restart, is tried again. */
const AGAIN_MS = 1_000;
const REQUEST_WITHIN_MS = 30_000;
const LONGEST_WAIT_MS = 600_000;

/** How `send` was asked cannot work. */
export class SendMistake extends Error {}

/** The receiver will not take these records from this sender, however often they are sent. */
export class SendRefused extends Error {}

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
 * without a time of its own (axles) goes right after the one before it. Resolves with how many were sent and answered, and
 * how many of them were refused.
 */
export async function sendFeed({ feed, to, token, speed, fromNow, signal, say }: SendOptions): Promise<{ sent: number; refused: number }> {
  let sent = 0;
  let refused = 0;
  let waiting: string[] = [];
  let firstMs = Number.NaN;
  let shiftMs = 0;
  const beganMs = Date.now();
  const tell = onChange(say);
  const flush = async () => {
    if (waiting.length === 0) return;
    const body = waiting.join("");
    const records = waiting.length;
    waiting = [];
    const answered = await post(to, token, body, signal, tell);
    if (answered === null) return;
    sent += records;
    refused += answered.refused;
  };
  for await (const batch of readFeed(feed)) {
    for (const { topic, key, value } of batch) {
      if (signal.aborted) return { sent, refused };
      const atMs = timeOf(value);
      if (Number.isNaN(firstMs) && !Number.isNaN(atMs)) {
        firstMs = atMs;
        shiftMs = fromNow ? beganMs - atMs : 0;
      }
      // A clock that is a year off is sent as it is and waited for by nobody.
      const dueMs = beganMs + (atMs - firstMs) / speed;
      if (dueMs > Date.now() + GATHER_MS && dueMs < Date.now() + 3_600_000) {
        await flush();
        await sleep(Math.max(0, dueMs - Date.now()), undefined, { signal }).catch(() => {});
      }
      waiting.push(`${JSON.stringify({ topic, key, value: moved(value, shiftMs) })}\n`);
      if (waiting.length >= REQUEST_RECORDS) await flush();
    }
  }
  await flush();
  return { sent, refused };
}

/** Sends until it is taken: a refusal is final for its records, everything else is tried again. Null when it was ended before. */
async function post(
  to: string,
  token: string,
  body: string,
  signal: AbortSignal,
  tell: (words: string | null) => void,
): Promise<{ refused: number } | null> {
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
      if (answer.ok) tell(null);
      if (answer.ok || answer.status === 422) return { refused: refusedIn(text) };
      if (answer.status !== 429 && answer.status < 500) throw new SendRefused(`${to} refuses with ${answer.status}: ${text.slice(0, 300)}`);
      waitMs = retryAfterMs(answer.headers.get("retry-after"));
      tell(`${to} asks to wait (${answer.status})`);
    } catch (error) {
      if (error instanceof SendRefused) throw error;
      if (!signal.aborted) tell(`${to} is not reached: ${reasonOf(error)}. Tried again every ${AGAIN_MS / 1_000} s; Ctrl-C ends it.`);
    }
    await sleep(waitMs, undefined, { signal }).catch(() => {});
  }
  return null;
}

/** Says a trouble once for as long as it lasts; null is that there is none any more. */
function onChange(say: (words: string) => void): (words: string | null) => void {
  let said: string | null = null;
  return (words) => {
    if (words !== null && words !== said) say(words);
    said = words;
  };
}

/** Of an answer of `POST /feed`; another receiver may say nothing of it. */
function refusedIn(answer: string): number {
  try {
    const { refused } = JSON.parse(answer) as { refused?: unknown };
    return typeof refused === "number" ? refused : 0;
  } catch {
    return 0;
  }
}

/** What a receiver asked to be waited for; a date, or nonsense, waits as for one that is away. */
function retryAfterMs(seconds: string | null): number {
  const asked = Number(seconds ?? Number.NaN) * 1_000;
  return asked >= 0 && asked <= LONGEST_WAIT_MS ? asked : AGAIN_MS;
}

/** fetch says only that it failed; why stands in the cause. */
function reasonOf(error: unknown): string {
  if (!(error instanceof Error)) return String(error);
  const { message, code } = (error.cause ?? error) as NodeJS.ErrnoException;
  return message === "" ? (code ?? error.message) : message;
}

/** Where records are sent. @throws SendMistake naming what is wrong with the address */
export function addressOf(to: string): string {
  const url = URL.parse(to);
  if (url === null || !/^https?:$/.test(url.protocol))
    throw new SendMistake(`--to ${to} is no address: give the whole of it, as in http://127.0.0.1:8471/feed`);
  if (url.username !== "" || url.password !== "") throw new SendMistake("--to holds a user or password: give the token with --token");
  return url.href;
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

/** `env:NAME` or `file:PATH`. @throws SendMistake naming the reference, never what is in it */
export function tokenOf(reference: string): string {
  const [, kind, place] = /^(env|file):(.+)$/s.exec(reference) ?? [];
  if (kind === undefined) throw new SendMistake("--token is given as env:NAME or file:PATH, never as itself");
  const token = kind === "env" ? process.env[place!] : textOf(place!);
  if (token === undefined || token === "") throw new SendMistake(`--token ${reference} is not set or empty`);
  return token;
}

function textOf(path: string): string {
  try {
    return readFileSync(path, "utf8").trim();
  } catch (error) {
    throw new SendMistake(`--token file:${path} cannot be read: ${(error as Error).message}`);
  }
}
