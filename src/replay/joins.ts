import type { JoinDoubt, Journey, Leg } from "../journey/journey.ts";
import { DAY_LIMITS, type Day, type DoubtedJoin } from "./day.ts";

/** A corridor's pass placed again after a late one is remembered this long (in passes), so that it is counted once. Far over any lateness bound. */
const REMEMBERED = 1_024;

/** A doubt, and when its pass ended. */
export interface DatedDoubt extends DoubtedJoin {
  timeMs: number;
}

interface Placed {
  timeMs: number;
  made: boolean;
  flipped: boolean;
  directionDoubted: boolean;
  edited: boolean;
  doubt: DatedDoubt | null;
}

/** Joins made and doubted, each pass counted once however often a late pass has it placed anew. */
export class JoinTally {
  readonly #recent = new Map<string, Placed>();
  readonly #doubts = new Map<string, DatedDoubt>();
  readonly #counts = { placed: 0, made: 0, flipped: 0, directionDoubted: 0, edited: 0 };
  readonly #byKind: Record<string, number> = {};
  #doubtsOver = 0;

  /** A pass was placed in a journey: joined to it (`leg.join`), or as the first of a new one. */
  place(_journey: Journey, leg: Leg): void {
    const id = leg.pass.id;
    const before = this.#recent.get(id);
    if (before !== undefined) this.#take(id, before);
    const join = leg.join;
    const placed: Placed = {
      timeMs: leg.pass.endedMs,
      made: join !== null,
      flipped: join?.flipped ?? false,
      directionDoubted: leg.directionDoubted,
      edited: join !== null && join.dropped + join.added + join.missedSingly + join.doubled > 0,
      doubt: null,
    };
    this.#recent.set(id, placed);
    this.#count(placed, 1);
    if (this.#recent.size > REMEMBERED) this.#recent.delete(this.#recent.keys().next().value as string);
  }

  /** A doubt belongs to the pass placed last under that id. */
  doubt(doubt: JoinDoubt): void {
    const placed = this.#recent.get(doubt.pass);
    const kept: DatedDoubt = { pass: doubt.pass, kind: doubt.kind, words: doubt.words, timeMs: placed?.timeMs ?? 0 };
    if (placed !== undefined) {
      if (placed.doubt !== null) this.#byKind[placed.doubt.kind] = (this.#byKind[placed.doubt.kind] ?? 0) - 1;
      placed.doubt = kept;
    }
    this.#byKind[doubt.kind] = (this.#byKind[doubt.kind] ?? 0) + 1;
    if (this.#doubts.size < DAY_LIMITS.doubts || this.#doubts.has(doubt.pass)) this.#doubts.set(doubt.pass, kept);
    else this.#doubtsOver++;
  }

  close(): { joins: Day["joins"]; doubts: DatedDoubt[]; over: number } {
    const kinds = Object.entries(this.#byKind).filter(([, count]) => count > 0);
    kinds.sort(([a], [b]) => (a < b ? -1 : 1));
    return { joins: { ...this.#counts, doubts: Object.fromEntries(kinds) }, doubts: [...this.#doubts.values()], over: this.#doubtsOver };
  }

  #take(id: string, placed: Placed): void {
    this.#recent.delete(id);
    this.#count(placed, -1);
    if (placed.doubt === null) return;
    this.#byKind[placed.doubt.kind] = (this.#byKind[placed.doubt.kind] ?? 0) - 1;
    this.#doubts.delete(id);
  }

  #count(placed: Placed, by: 1 | -1): void {
    this.#counts.placed += by;
    if (placed.made) this.#counts.made += by;
    if (placed.flipped) this.#counts.flipped += by;
    if (placed.directionDoubted) this.#counts.directionDoubted += by;
    if (placed.edited) this.#counts.edited += by;
  }
}
