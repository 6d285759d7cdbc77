import { type Assembly, OPEN_PASSES } from "../pass/assemble.ts";
import type { Arrival } from "./in-time.ts";

/** Time of a source moves in marks of this length: passes time out and corridors hear of it no finer than that. */
export const MARK_MS = 5_000;

/**
 * How far back a re-fold of readings goes, at most: what a track knew of passes before that is forgotten. Time that bridges
 * a lonely line's trains, bounded by records where a line is that busy. Assumption.
 */
export const WINDOW_MS = 3 * 3_600_000;
export const WINDOW_RECORDS = 200_000;

/** A mark is kept for each minute of the window, and for each sixteenth of its records. */
const KEPT_MARK_MS = 60_000;
const KEPT_MARK_RECORDS = WINDOW_RECORDS / 16;

interface Mark {
  atMs: number;
  offset: number;
  /** Where a re-fold that is to know all passes open at this mark must begin. */
  lowest: number;
}

interface Coming extends Arrival {
  pass: string;
  firstOffset: number;
}

/**
 * The time of one source: when its records came. Marks lie on a grid of time and offsets, so that folding again from an
 * earlier offset finds the very same ones.
 */
export class SourceClock {
  readonly name: string;
  /** How many sources there are, as the last tick said; 0 before. */
  of = 0;
  nowMs = Number.NEGATIVE_INFINITY;
  private readonly coming = new Map<Assembly, Coming[]>();
  /** The first is the newest that lies before the window. */
  private readonly marks: Mark[] = [];
  private isFull = false;

  constructor(name: string) {
    this.name = name;
  }

  /** The mark that time has come to; minus infinity before the first record. */
  get markMs(): number {
    return Math.floor(this.nowMs / MARK_MS) * MARK_MS;
  }

  /** A record came. Answers with the mark that time has come to, null when it is the one before. */
  arrive(ms: number, offset: number): number | null {
    const last = this.marks.at(-1);
    const nowMs = Math.max(ms, this.nowMs);
    if (last === undefined || nowMs - last.atMs >= KEPT_MARK_MS || offset - last.offset >= KEPT_MARK_RECORDS) this.keepMark(nowMs, offset);
    const before = Math.floor(this.nowMs / MARK_MS);
    this.nowMs = nowMs;
    const mark = Math.floor(nowMs / MARK_MS);
    return mark === before ? null : mark * MARK_MS;
  }

  /** A reading that added something to a pass: when the pass began to come, and came last. */
  reading(assembly: Assembly, pass: string, offset: number): void {
    let passes = this.coming.get(assembly);
    if (passes === undefined) {
      passes = [];
      this.coming.set(assembly, passes);
    }
    // The newest is nearly always the one.
    for (let at = passes.length - 1; at >= 0; at--) {
      if (passes[at]!.pass !== pass) continue;
      passes[at]!.lastMs = this.nowMs;
      return;
    }
    passes.push({ pass, firstMs: this.nowMs, lastMs: this.nowMs, firstOffset: offset });
    if (passes.length > OPEN_PASSES + 1) passes.shift();
  }

  /** When a pass came; it is forgotten with that, for its number may be used again. */
  arrivalOf(assembly: Assembly, pass: string): Arrival | null {
    const passes = this.coming.get(assembly);
    const at = passes?.findIndex((one) => one.pass === pass) ?? -1;
    return passes === undefined || at < 0 ? null : passes.splice(at, 1)[0]!;
  }

  /** What closed before this is to be forgotten; minus infinity while the window is not full. */
  get forgetsBeforeMs(): number {
    return this.isFull ? this.marks[0]!.atMs : Number.NEGATIVE_INFINITY;
  }

  /** Whether the window is full: before that nothing is forgotten. */
  get isForgetful(): boolean {
    return this.isFull;
  }

  /** Where a re-fold must begin once the window is full; undefined before the first record. */
  get refoldFrom(): number | undefined {
    return this.marks[0]?.lowest;
  }

  private keepMark(nowMs: number, offset: number): void {
    const isOut = ({ atMs, offset: from }: Mark) => atMs <= nowMs - WINDOW_MS || from <= offset - WINDOW_RECORDS;
    // On the grid of minutes, unless it was the count that asked for it.
    const atMs = Math.floor(nowMs / KEPT_MARK_MS) * KEPT_MARK_MS;
    this.marks.push({ atMs: Math.max(atMs, this.marks.at(-1)?.atMs ?? atMs), offset, lowest: this.lowest(offset) });
    while (this.marks.length > 1 && isOut(this.marks[1]!)) this.marks.shift();
    this.isFull = this.marks.length > 1 && isOut(this.marks[0]!);
  }

  private lowest(offset: number): number {
    let lowest = offset;
    for (const [assembly, passes] of this.coming) {
      // A pass without axles is never handed out; it is not waited for longer than the window.
      const kept = passes.filter(({ lastMs }) => lastMs >= this.forgetsBeforeMs);
      if (kept.length < passes.length) this.coming.set(assembly, kept);
      for (const { firstOffset } of kept) lowest = Math.min(lowest, firstOffset);
    }
    return lowest;
  }
}
