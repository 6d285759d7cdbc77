/** Wall clock and scheduling, from outside: the deterministic simulation drives them. Nothing that a fold sees. */
export interface Clock {
  /** Milliseconds since the epoch. */
  now(): number;
  /** Calls once after so many milliseconds; answers with what takes it back. */
  after(ms: number, call: () => void): () => void;
  /** Lets whatever else waits have its turn. */
  breathe(): Promise<void>;
}

export const wallClock: Clock = {
  now: Date.now,
  after: (ms, call) => {
    const timer = setTimeout(call, ms);
    return () => clearTimeout(timer);
  },
  breathe: () => new Promise((resolve) => setImmediate(resolve)),
};

/** Resolves after so many milliseconds, or as soon as the signal aborts. */
export function pauseOf(clock: Clock, ms: number, signal: AbortSignal): Promise<void> {
  if (signal.aborted) return Promise.resolve();
  return new Promise((resolve) => {
    const done = () => {
      cancel();
      signal.removeEventListener("abort", done);
      resolve();
    };
    const cancel = clock.after(ms, done);
    signal.addEventListener("abort", done);
  });
}
