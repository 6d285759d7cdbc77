/** Sign-ins that one address may try in a minute, whatever the names: a room of people behind one address, not a guessing program. */
export const ATTEMPTS_A_MINUTE = 60;
const MINUTE_MS = 60_000;
/** Addresses remembered; past it the oldest go, which can only let somebody try more. */
const MOST_ADDRESSES = 10_000;

/** Counts sign-ins by address, minute by minute. */
export class Attempts {
  private readonly counts = new Map<string, { sinceMs: number; count: number }>();
  private readonly now: () => number;

  constructor(now: () => number = Date.now) {
    this.now = now;
  }

  /** Notes one more; false when it is one too many. */
  isAllowed(address: string): boolean {
    const nowMs = this.now();
    const known = this.counts.get(address);
    if (known === undefined || nowMs - known.sinceMs >= MINUTE_MS) {
      this.counts.delete(address);
      this.counts.set(address, { sinceMs: nowMs, count: 1 });
      if (this.counts.size > MOST_ADDRESSES) this.counts.delete(this.counts.keys().next().value as string);
      return true;
    }
    known.count++;
    return known.count <= ATTEMPTS_A_MINUTE;
  }
}
