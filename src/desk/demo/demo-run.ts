import type { DemoClock } from "./demo-clock.ts";
import type { DueRecord } from "./demo-feed.ts";

/** Due within so little time counts as due now: fewer, larger steps. */
const STEP_MS = 100;
/** Records handed over at once. */
const MOST_AT_ONCE = 2_000;
/** Never asleep for longer, so that a stop is noticed. */
const LONGEST_SLEEP_MS = 500;

export interface DemoRun {
  /** Resolves once the day has come to the time from which it runs by the clock. */
  readonly started: Promise<void>;
  /** Settles when the run ends: by `stop`, or because something failed. */
  readonly ended: Promise<void>;
  stop(): Promise<void>;
}

/**
 * Hands the records of a recorded day over when they are due: at once up to `runFromMs`, from then on by the clock, which begins
 * to run after `beforeRun`.
 */
export function runDemo(
  feed: AsyncGenerator<DueRecord[]>,
  clock: DemoClock,
  runFromMs: number,
  take: (due: readonly DueRecord[]) => Promise<void>,
  beforeRun: () => Promise<void> = async () => {},
): DemoRun {
  let isStopped = false;
  let begin = () => {};
  const started = new Promise<void>((resolve) => {
    begin = resolve;
  });
  const wait = async (untilMs: number) => {
    for (let left = clock.until(untilMs); left > STEP_MS && !isStopped; left = clock.until(untilMs))
      await sleep(Math.min(left, LONGEST_SLEEP_MS));
  };
  const run = async () => {
    let isRunning = false;
    for await (const batch of feed) {
      for (let i = 0; i < batch.length && !isStopped; ) {
        const first = batch[i]!;
        if (!isRunning && first.dueMs >= runFromMs) {
          isRunning = true;
          clock.reach(runFromMs);
          await beforeRun();
          clock.run();
          begin();
        }
        if (isRunning) await wait(first.dueMs);
        else clock.reach(first.dueMs);
        // A slice of one moment: arrivals keep the time at which they came.
        const end = endOfSlice(batch, i, isRunning ? first.dueMs + STEP_MS * clock.speed : runFromMs - 1);
        if (isStopped) break;
        await take(batch.slice(i, end));
        i = end;
      }
      if (isStopped) break;
    }
  };
  const ended = run().finally(begin);
  return {
    started,
    ended,
    stop: async () => {
      isStopped = true;
      await ended.catch(() => {});
    },
  };
}

function endOfSlice(batch: readonly DueRecord[], from: number, throughMs: number): number {
  let end = from;
  while (end < batch.length && end - from < MOST_AT_ONCE && batch[end]!.dueMs <= throughMs) end++;
  return Math.max(end, from + 1);
}

function sleep(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}
