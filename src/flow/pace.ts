/** So far may a partition be ahead of the one furthest behind in this process, by the time its records tell of. Assumption. */
export const AHEAD_MS = 10 * 60_000;

interface Waiting {
  ms: number;
  go: () => void;
}

/**
 * Keeps the partitions that one process reads together while it catches up: whoever is far ahead in time waits for those
 * behind, so that passes reach `follow` nearly in order and corrections stay rare. Correctness does not hang on it. Who has
 * read everything holds up nobody.
 */
export class Pace {
  private readonly reading = new Map<string, number>();
  private readonly waiting = new Map<string, Waiting>();

  /** A partition has come to `ms`, and has more to read. */
  at(name: string, ms: number): void {
    if (Number.isNaN(ms)) return;
    this.reading.set(name, ms);
    this.letGo();
  }

  /** A partition has nothing to read now, or is not read any more. */
  rest(name: string): void {
    this.waiting.delete(name);
    if (this.reading.delete(name)) this.letGo();
  }

  /** How far a partition may go. */
  limit(name: string): number {
    let leastMs = Number.POSITIVE_INFINITY;
    for (const [other, ms] of this.reading) if (other !== name && ms < leastMs) leastMs = ms;
    return leastMs + AHEAD_MS;
  }

  /** Stops counting as one that reads; `go` is called once, when the others have come near. */
  wait(name: string, ms: number, go: () => void): void {
    this.reading.delete(name);
    this.waiting.set(name, { ms, go });
    this.letGo();
  }

  private letGo(): void {
    for (const [name, { ms, go }] of this.waiting) {
      if (ms > this.limit(name)) continue;
      this.waiting.delete(name);
      this.reading.set(name, ms);
      go();
    }
  }
}
