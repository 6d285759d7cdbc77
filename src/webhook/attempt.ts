import type { Endpoint } from "./endpoint.ts";
import { type Message, signedHeaders } from "./message.ts";

/** What came of one attempt. `gone`: the receiver wants no more (410). */
export type Attempt =
  | { outcome: "delivered" }
  | { outcome: "failed"; words: string; retryAfterMs: number | null }
  | { outcome: "gone"; words: string };

/** Longest wait that a receiver may ask for. Assumption: who asks for more means another day, and is asked sooner. */
const RETRY_AFTER_MOST_MS = 3_600_000;
const GONE = 410;

/** One POST. Never throws; a redirect is a failure, for the address in the configuration is the one that was agreed on. */
export async function attempt(
  endpoint: Endpoint,
  message: Message,
  nowMs: number,
  signal: AbortSignal,
  post: typeof fetch = fetch,
): Promise<Attempt> {
  try {
    const response = await post(endpoint.url, {
      method: "POST",
      redirect: "manual",
      headers: signedHeaders(message, endpoint.keys, nowMs),
      body: message.body,
      signal: AbortSignal.any([signal, AbortSignal.timeout(endpoint.timeoutMs)]),
    });
    // Nothing is read of what a receiver says; left unread it would keep the connection.
    await response.body?.cancel();
    if (response.ok) return { outcome: "delivered" };
    const words = `it answered ${response.status}`;
    if (response.status === GONE) return { outcome: "gone", words };
    return { outcome: "failed", words, retryAfterMs: retryAfterMs(response.headers.get("retry-after"), nowMs) };
  } catch (error) {
    return { outcome: "failed", words: wordsOf(error, endpoint), retryAfterMs: null };
  }
}

/** RFC 9110, 10.2.3: seconds, or a date. */
function retryAfterMs(header: string | null, nowMs: number): number | null {
  if (header === null) return null;
  const ms = /^\d{1,9}$/.test(header) ? Number(header) * 1_000 : Date.parse(header) - nowMs;
  return Number.isNaN(ms) ? null : Math.min(Math.max(ms, 0), RETRY_AFTER_MOST_MS);
}

function wordsOf(error: unknown, { timeoutMs }: Endpoint): string {
  if (error instanceof DOMException && error.name === "TimeoutError") return `no answer in ${timeoutMs / 1_000} s`;
  const cause = (error as { cause?: { code?: unknown; message?: unknown } }).cause;
  return String(cause?.code ?? cause?.message ?? (error as Error).message);
}
