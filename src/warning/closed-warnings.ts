import type { DeskAction } from "../feed/record.ts";
import { act, expire, normal } from "./lifecycle.ts";
import type { RuleBook } from "./rule-book.ts";
import { type Draft, draftOf, type Told } from "./telling.ts";
import type { Warning } from "./warning.ts";

/**
 * Warnings whose journey is over: no pass can change them, the desk still can. Kept is what stands, not what led to it, so an
 * action takes effect in the order of arrival here.
 */
export class ClosedWarnings {
  readonly #book: RuleBook;
  readonly #told = new Map<string, Told & { acted: Set<string> }>();
  readonly #changed = new Set<string>();
  readonly #shelved = new Set<string>();

  constructor(book: RuleBook) {
    this.#book = book;
  }

  get size(): number {
    return this.#told.size;
  }

  has(id: string): boolean {
    return this.#told.has(id);
  }

  keep(id: string, told: Told, acted: readonly DeskAction[]): void {
    this.#told.set(id, { ...told, acted: new Set(acted.map((action) => action.id)) });
    if (told.stand.shelf !== null) this.#shelved.add(id);
  }

  /** One that was published before this process began: its last version is all there is of it. */
  adopt(warning: Warning): void {
    const { id, version: _version, correction: _correction, supersededBy: _heir, state, ...content } = warning;
    // When a shelf ends is not part of a warning, so a shelved one comes back to the desk: the careful side.
    const open = state === "shelved" || state === "withdrawn" ? "unacknowledged" : state;
    const timeMs = Date.parse(warning.time);
    const known = { level: warning.level, state: open, sinceMs: timeMs, decidedMs: timeMs, lastRiseF: warning.riseF ?? Number.NaN };
    this.#told.set(id, { content, stand: { ...normal(), ...known }, acted: new Set() });
  }

  forget(id: string): void {
    this.#told.delete(id);
    this.#changed.delete(id);
    this.#shelved.delete(id);
  }

  /** Lets go of those that are no longer published anywhere. */
  bound(isKept: (id: string) => boolean): void {
    for (const id of this.#told.keys()) if (!isKept(id)) this.forget(id);
  }

  act(id: string, action: DeskAction): void {
    const told = this.#told.get(id);
    if (told === undefined || told.acted.has(action.id) || told.acted.size >= MAX_ACTIONS) return;
    told.acted.add(action.id);
    told.stand = act(told.stand, action, Date.parse(action.time), this.#book);
    if (told.stand.shelf !== null) this.#shelved.add(id);
    this.#changed.add(id);
  }

  /** What changed since the last time, shelves that ended by `nowMs` included. */
  settle(nowMs: number): Draft[] {
    for (const id of this.#shelved) this.#unshelve(id, nowMs);
    const drafts = [...this.#changed].map((id) => draftOf(id, this.#told.get(id)!, this.#book));
    this.#changed.clear();
    return drafts;
  }

  #unshelve(id: string, nowMs: number): void {
    const told = this.#told.get(id)!;
    told.stand = expire(told.stand, nowMs);
    if (told.stand.shelf !== null) return;
    this.#shelved.delete(id);
    this.#changed.add(id);
  }
}

/** Desk actions on one warning that count; the rest is a mistake of some program. */
export const MAX_ACTIONS = 200;
