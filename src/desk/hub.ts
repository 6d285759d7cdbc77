import type { Changed } from "./board/desk-state.ts";

/** Changes remembered for pages that lost their connection; whoever missed more gets everything anew. */
export const MOST_CHANGES = 20_000;
/** Pages connected at once. */
export const MOST_LISTENERS = 500;
/** Changes wait so long for others to go with them: 60 updates a second become at most ten messages. */
export const GATHER_MS = 100;

/** Where a page stands: nothing is queued for it, it only has a place in the ring. */
export interface Listener {
  /** Everything up to here it has. */
  at: number;
  /** Called when there is something new; it takes it by `since` when it can write. */
  wake(): void;
}

/**
 * The stream of changes for the pages: a bounded ring, read by each page from its own place. A page that reads slowly costs
 * nothing: what it skipped is joined into one message, and if the ring went past it, it starts anew.
 */
export class Hub {
  /** Names this run of the ring: places of another one mean nothing here. */
  readonly epoch: string;
  private readonly ring: { seq: number; key: string; change: Changed }[] = [];
  private readonly listeners = new Set<Listener>();
  private seq = 0;
  private timer: NodeJS.Timeout | null = null;

  constructor(epoch: string) {
    this.epoch = epoch;
  }

  get last(): number {
    return this.seq;
  }

  get size(): number {
    return this.listeners.size;
  }

  add(change: Changed): void {
    this.seq++;
    this.ring.push({ seq: this.seq, key: keyOf(change), change });
    if (this.ring.length > MOST_CHANGES * 1.1) this.ring.splice(0, this.ring.length - MOST_CHANGES);
    this.timer ??= setTimeout(() => {
      this.timer = null;
      for (const listener of this.listeners) listener.wake();
    }, GATHER_MS);
  }

  /** What changed after a place, each thing once; null when that is not known any more. */
  since(seq: number): Changed[] | null {
    if (seq > this.seq || (this.ring.length > 0 && seq < this.ring[0]!.seq - 1)) return null;
    const once = new Map<string, Changed>();
    for (let i = this.ring.length - 1; i >= 0 && this.ring[i]!.seq > seq; i--) {
      const { key, change } = this.ring[i]!;
      if (!once.has(key)) once.set(key, change);
    }
    return [...once.values()].reverse();
  }

  /** The place that an event id names; null for one of another run. */
  placeOf(id: string): number | null {
    const [epoch, seq] = id.split("-");
    return epoch === this.epoch && /^\d{1,15}$/.test(seq ?? "") ? Number(seq) : null;
  }

  /** False when there are too many. */
  listen(listener: Listener): boolean {
    if (this.listeners.size >= MOST_LISTENERS) return false;
    this.listeners.add(listener);
    return true;
  }

  leave(listener: Listener): void {
    this.listeners.delete(listener);
  }

  close(): void {
    if (this.timer !== null) clearTimeout(this.timer);
    this.listeners.clear();
  }
}

function keyOf(change: Changed): string {
  return change.what === "point" ? `point ${change.point.corridor} ${change.point.pass}` : `${change.what} ${change.id}`;
}
