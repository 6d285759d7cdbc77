import type { Log, NewRecord } from "../log/log.ts";
import { INBOUND } from "../log/topics.ts";
import type { Logger } from "../telemetry/logger.ts";
import type { Metrics } from "../telemetry/metrics.ts";
import type { Clock } from "./clock.ts";

/** Ticks are half of a mark apart (`MARK_MS`), so that every mark is seen even where no site sends anything. */
export const TICK_EVERY_MS = 2_500;

export interface Ticker {
  /** Resolves when the last tick is in the log or refused. */
  close(): Promise<void>;
}

/**
 * Writes wall-clock time into every partition of every inbound topic: the only way in which it enters. Several processes
 * may do so; ticks that say the same change nothing.
 */
export async function startTicker(log: Log, clock: Clock, metrics: Metrics, logger: Logger, everyMs = TICK_EVERY_MS): Promise<Ticker> {
  const sources = await sourcesOf(log);
  let closed = false;
  let writing: Promise<void> = Promise.resolve();
  let cancel = () => {};
  const tick = () => {
    const nowMs = clock.now();
    writing = log.append(ticks(sources, nowMs)).then(
      () => {
        metrics.ticker.ticks.add(sources.length);
        metrics.ticker.lastMs.set(nowMs);
      },
      // The next one says more: time stands still meanwhile, and nothing is called dead for it.
      (error: unknown) => logger.warn("log-failed", "a tick did not get into the log", { error }),
    );
    void writing.then(() => {
      if (!closed) cancel = clock.after(everyMs, tick);
    });
  };
  tick();
  return {
    close: async () => {
      closed = true;
      cancel();
      await writing;
    },
  };
}

/** Every partition of every inbound topic. */
export async function sourcesOf(log: Log): Promise<{ topic: string; partition: number }[]> {
  const sources: { topic: string; partition: number }[] = [];
  for (const topic of INBOUND) {
    for (let partition = 0, count = await log.partitions(topic); partition < count; partition++) sources.push({ topic, partition });
  }
  return sources;
}

/** One tick for each source. */
export function ticks(sources: readonly { topic: string; partition: number }[], nowMs: number): NewRecord[] {
  const time = new Date(nowMs).toISOString();
  return sources.map(({ topic, partition }) => ({
    topic,
    key: "",
    partition,
    value: JSON.stringify({ type: "tick", time, source: `${topic}/${partition}`, of: sources.length }),
  }));
}
