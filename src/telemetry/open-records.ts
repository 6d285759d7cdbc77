/** Most ids kept open at one time; past it new ones are counted and not kept. A railroad has a few hundred. */
export const MOST_OPEN_RECORDS = 50_000;

interface Versioned {
  id: string;
  version: number;
}

/** What taking a version of a record was; `before` is the version known until now. */
export type Change<T> = { change: "taken"; before: T | null } | { change: "repeated" | "not-kept" };

/** The latest version of each record that is still open, from a topic read in order. Reading one twice changes nothing. */
export class OpenRecords<T extends Versioned> {
  readonly #open = new Map<string, T>();
  readonly #isOpen: (record: T) => boolean;
  notKept = 0;

  constructor(isOpen: (record: T) => boolean) {
    this.#isOpen = isOpen;
  }

  take(record: T): Change<T> {
    const before = this.#open.get(record.id) ?? null;
    if (before !== null && before.version >= record.version) return { change: "repeated" };
    if (!this.#isOpen(record)) {
      this.#open.delete(record.id);
    } else if (before === null && this.#open.size >= MOST_OPEN_RECORDS) {
      this.notKept++;
      return { change: "not-kept" };
    } else {
      this.#open.set(record.id, record);
    }
    return { change: "taken", before };
  }

  get(id: string): T | null {
    return this.#open.get(id) ?? null;
  }

  values(): IterableIterator<T> {
    return this.#open.values();
  }

  get size(): number {
    return this.#open.size;
  }
}
