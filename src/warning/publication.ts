import type { Draft } from "./telling.ts";
import { sameContent } from "./version.ts";
import type { Warning } from "./warning.ts";

/** Ids whose last version is kept: with about 5 kB each, 20 MB. What is let go first is the oldest without a life of its own. */
export const MAX_KEPT = 4_000;

/** What was published of every id: one version after the other, each only when it says something new. */
export class Publication {
  readonly #last = new Map<string, Warning>();
  /** Id that took over from a withdrawn one. */
  readonly #heirs = new Map<string, string>();

  get(id: string): Warning | undefined {
    return this.#last.get(id);
  }

  get size(): number {
    return this.#last.size;
  }

  all(): IterableIterator<Warning> {
    return this.#last.values();
  }

  /** Publishes a draft as the next version of its id, unless the last one already says it. */
  say(draft: Draft, correction: boolean, out: Warning[]): void {
    const last = this.#last.get(draft.id);
    const next: Warning = { ...draft, version: (last?.version ?? 0) + 1, correction };
    if (last !== undefined && sameContent(last, next)) return;
    // A withdrawn id that lives again has no heir any more.
    if (draft.supersededBy === null) this.#heirs.delete(draft.id);
    else this.#heirs.set(draft.id, draft.supersededBy);
    this.#last.set(draft.id, next);
    out.push(next);
  }

  /** Takes in a version published elsewhere or before; an older one than is known changes nothing. */
  adopt(warning: Warning): boolean {
    const last = this.#last.get(warning.id);
    if (last !== undefined && last.version >= warning.version) return false;
    this.#last.set(warning.id, warning);
    if (warning.supersededBy !== null) this.#heirs.set(warning.id, warning.supersededBy);
    return true;
  }

  forget(id: string): void {
    this.#last.delete(id);
    this.#heirs.delete(id);
  }

  /** The id that now stands for one that may have been withdrawn. */
  heirOf(id: string): string {
    let heir = id;
    // Chains are short; a ring cannot be made, and could not hold this up if it were.
    for (let i = 0; i < MAX_CHAIN; i++) {
      const next = this.#heirs.get(heir);
      if (next === undefined) break;
      heir = next;
    }
    return heir;
  }

  /** Ids withdrawn in favour of this one, itself included. */
  forebearsOf(id: string): string[] {
    return [id, ...[...this.#heirs.keys()].filter((old) => this.heirOf(old) === id)];
  }

  /** Lets the oldest go while there are too many; returns how many of them. */
  bound(isNeeded: (id: string) => boolean): number {
    let gone = 0;
    for (const id of this.#last.keys()) {
      if (this.#last.size <= MAX_KEPT) break;
      if (isNeeded(id)) continue;
      this.#last.delete(id);
      this.#heirs.delete(id);
      gone++;
    }
    return gone;
  }
}

const MAX_CHAIN = 16;
