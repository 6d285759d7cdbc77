/** Something that happens again and again: it is asked at `at` and then says when next (Infinity: never again). */
export interface Source<T> {
  at: number;
  step(out: T[]): void;
}

interface Entry<T> {
  source: Source<T>;
  /** Ties go to whoever was there first, so the same seed gives the same order. */
  order: number;
}

/** What happens next, earliest first: a binary heap. Holds only what is under way. */
export class Agenda<T> {
  private readonly heap: Entry<T>[] = [];
  private orders = 0;

  get size(): number {
    return this.heap.length;
  }

  add(source: Source<T>): void {
    const entry = { source, order: this.orders++ };
    const heap = this.heap;
    let at = heap.length;
    heap.push(entry);
    while (at > 0) {
      const parent = (at - 1) >> 1;
      if (!before(entry, heap[parent] as Entry<T>)) break;
      heap[at] = heap[parent] as Entry<T>;
      at = parent;
    }
    heap[at] = entry;
  }

  /** When the next thing happens; Infinity when nothing is left. */
  get nextAt(): number {
    return this.heap[0]?.source.at ?? Number.POSITIVE_INFINITY;
  }

  /** Lets the earliest source happen once. Sources it adds meanwhile are kept in their place. */
  step(out: T[]): void {
    const top = this.heap[0];
    if (top === undefined) return;
    // Out first, in again afterwards: a source may add others while it happens, and its own time changes.
    this.removeTop();
    top.source.step(out);
    if (top.source.at !== Number.POSITIVE_INFINITY) this.add(top.source);
  }

  private removeTop(): void {
    const heap = this.heap;
    const last = heap.pop() as Entry<T>;
    if (heap.length === 0) return;
    let at = 0;
    for (;;) {
      let child = 2 * at + 1;
      if (child >= heap.length) break;
      if (child + 1 < heap.length && before(heap[child + 1] as Entry<T>, heap[child] as Entry<T>)) child++;
      if (!before(heap[child] as Entry<T>, last)) break;
      heap[at] = heap[child] as Entry<T>;
      at = child;
    }
    heap[at] = last;
  }
}

function before<T>(a: Entry<T>, b: Entry<T>): boolean {
  return a.source.at < b.source.at || (a.source.at === b.source.at && a.order < b.order);
}
