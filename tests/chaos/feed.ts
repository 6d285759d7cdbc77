import { readFeed } from "../../src/feed/feed-file.ts";
import { ticks } from "../../src/flow/ticker.ts";
import type { Log, NewRecord } from "../../src/log/log.ts";
import { UnknownOutcomeError } from "../../src/log/log.ts";
import { INBOUND } from "../../src/log/topics.ts";

const TICK_EVERY_MS = 60_000;

/** A stretch of the recorded day in replay-data, with a tick into every partition each minute of its own time. */
export async function recordedStretch(fromHour: number, hours: number, partitions: ReadonlyMap<string, number>): Promise<NewRecord[]> {
  const sources = INBOUND.flatMap((topic) => Array.from({ length: partitions.get(topic)! }, (_, partition) => ({ topic, partition })));
  const records: NewRecord[] = [];
  const openPasses = new Set<string>();
  let nextTickMs = Number.NEGATIVE_INFINITY;
  let isInside = false;
  for await (const batch of readFeed("replay-data/day.jsonl.zst")) {
    for (const { topic, key, value } of batch) {
      const atMs = timeOf(value);
      if (!Number.isNaN(atMs)) {
        // Arrival order: the first time in the stretch opens it, one sensible time behind its end closes it.
        const hour = (atMs / 3_600_000) % 24;
        isInside = hour >= fromHour && hour < fromHour + hours;
      }
      if (!isInside) continue;
      if (atMs >= nextTickMs) {
        records.push(...ticks(sources, atMs));
        nextTickMs = atMs + TICK_EVERY_MS;
      } else if (nextTickMs === Number.NEGATIVE_INFINITY && !Number.isNaN(atMs)) nextTickMs = atMs;
      openPasses.add(key);
      records.push({ topic, key, value: typeof value === "string" ? value : JSON.stringify(value) });
    }
  }
  return records;
}

function timeOf(value: unknown): number {
  const { time } = (value ?? {}) as { time?: unknown };
  return typeof time === "string" ? Date.parse(time) : Number.NaN;
}

/** Sends records in order, evenly over a while, and again whatever is not known to be in the log. */
export async function sendOver(log: Log, records: readonly NewRecord[], ms: number, going: () => boolean): Promise<void> {
  const beganMs = performance.now();
  for (let at = 0; at < records.length && going(); ) {
    const due = Math.min(records.length, Math.ceil((records.length * (performance.now() - beganMs)) / ms));
    if (due <= at) {
      await new Promise((resolve) => setTimeout(resolve, 20));
      continue;
    }
    const some = records.slice(at, Math.min(due, at + 500));
    try {
      await log.append(some);
      at += some.length;
    } catch (error) {
      if (!(error instanceof UnknownOutcomeError)) throw error;
    }
  }
}
