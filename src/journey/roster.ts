import type { Pass } from "../pass/pass.ts";
import { align, alignRunAround, MOST_EDIT_NATS, reversedGaps } from "./align.ts";
import type { Alignment } from "./alignment.ts";
import { type Fingerprint, fingerprint } from "./fingerprint.ts";
import { type Draft, mergeAxles } from "./merge-axles.ts";
import { indexSpacings, type SpacingIndex } from "./probe.ts";

/** A spacing is the mean of this many legs at most, so that a roster can still follow what changes. */
export const MOST_MEANED = 6;
/** A pass in both orders, with what is told at a glance; computed once however often it is placed. */
export interface Pattern {
  print: Fingerprint;
  gapInches: Float32Array;
  /** Last axle first; made when first asked for. */
  reversed: Float32Array | null;
}

const patterns = new WeakMap<Pass, Pattern>();

export function patternOf(pass: Pass): Pattern {
  let pattern = patterns.get(pass);
  if (pattern === undefined) {
    pattern = { print: fingerprint(pass.gapInches), gapInches: pass.gapInches, reversed: null };
    patterns.set(pass, pattern);
  }
  return pattern;
}

function reversedOf(pattern: Pattern): Float32Array {
  pattern.reversed ??= reversedGaps(pattern.gapInches);
  return pattern.reversed;
}

/** What edits may cost a train of cars all alike, and the more the less alike they are: whatever else speaks for it could not make up for more. */
const ALIKE_EDIT_NATS = 28;

/** Alignments tried of one pass with one roster, by order of the axles and effort. */
interface Tried {
  pattern: Pattern;
  alignments: (Alignment | null | undefined)[];
}

/** Passes whose tries a roster remembers: those on their way to the sites around, looked at again when one came late. */
const MOST_TRIED = 6;

/**
 * How hard to look: the linear way only; that and locomotives that changed ends; cars that came or went in one place; in
 * two or three; in several, with a lattice.
 */
export type Effort = "linear" | "run-around" | "one-run" | "few-runs" | "thorough";
const EFFORTS: readonly Effort[] = ["linear", "run-around", "one-run", "few-runs", "thorough"];
const MOST_NATS_OF: Readonly<Record<Effort, number>> = {
  linear: 0,
  "run-around": 0,
  "one-run": 0,
  "few-runs": 23,
  thorough: MOST_EDIT_NATS,
};

/**
 * The axles of a train as known after one leg: numbers that are never used again, in the order of the first leg, and the
 * spacing before each. Never changed once made: the next leg makes the next roster. What follows from a roster and a
 * pass is remembered, so that taking legs back and placing them again costs nothing.
 */
export class Roster {
  /** Roster number of each position. */
  readonly axles: Int32Array;
  /** Spacing before each position, in the scale of the first leg; NaN for the first and where it was never measured. */
  readonly gapInches: Float32Array;
  /** Row on the latest leg of each position, -1 where it was not seen; null when every position i was row i (or, flipped, the i-th from the end). */
  readonly rowOfPosition: Int32Array | null;
  readonly flipped: boolean;
  /** First number never given. */
  readonly next: number;
  readonly legs: number;
  /** Tag read at a roster number on any leg. */
  readonly tags: ReadonlyMap<number, string>;
  readonly print: Fingerprint;
  private spacingIndex: SpacingIndex | null = null;
  private readonly tried: Tried[] = [];
  private readonly followers: Follower[] = [];

  constructor(
    axles: Int32Array,
    gapInches: Float32Array,
    rowOfPosition: Int32Array | null,
    flipped: boolean,
    next: number,
    legs: number,
    tags: ReadonlyMap<number, string>,
    print: Fingerprint,
  ) {
    this.axles = axles;
    this.gapInches = gapInches;
    this.rowOfPosition = rowOfPosition;
    this.flipped = flipped;
    this.next = next;
    this.legs = legs;
    this.tags = tags;
    this.print = print;
  }

  /** Row on the latest leg of a position, -1 where it was not seen there. */
  rowOf(position: number): number {
    if (this.rowOfPosition !== null) return this.rowOfPosition[position]!;
    return this.flipped ? this.axles.length - 1 - position : position;
  }

  /** Alignment of a pass with this roster, in the given order. */
  align(pass: Pass, flipped: boolean, effort: Effort): Alignment | null {
    const { alignments } = this.triesOf(patternOf(pass));
    const which = EFFORTS.indexOf(effort) + (flipped ? EFFORTS.length : 0);
    let alignment = alignments[which];
    if (alignment === undefined) {
      alignment = this.alignAnew(this.ordered(pass, flipped), effort);
      alignments[which] = alignment;
    }
    return alignment;
  }

  private triesOf(pattern: Pattern): Tried {
    for (const tried of this.tried) if (tried.pattern === pattern) return tried;
    const fresh: Tried = { pattern, alignments: [] };
    if (this.tried.length >= MOST_TRIED) this.tried.shift();
    this.tried.push(fresh);
    return fresh;
  }

  /** Spacings of a pass in the roster's order. */
  ordered(pass: Pass, flipped: boolean): Float32Array {
    return flipped ? reversedOf(patternOf(pass)) : pass.gapInches;
  }

  private index(): SpacingIndex {
    this.spacingIndex ??= indexSpacings(this.gapInches);
    return this.spacingIndex;
  }

  private alignAnew(gaps: Float32Array, effort: Effort): Alignment | null {
    if (effort !== "linear" && effort !== "run-around") {
      return align(this.gapInches, gaps, this.index(), Math.min(MOST_NATS_OF[effort], ALIKE_EDIT_NATS + this.print.distinctNats));
    }
    const linear = align(this.gapInches, gaps, null);
    if (linear !== null || effort === "linear") return linear;
    // The locomotives led on the latest leg; where that was flipped, they stand at the end of the roster.
    return alignRunAround(this.gapInches, gaps, !this.flipped);
  }

  /** The roster after a further leg, and the roster number of each row of its pass. */
  after(pass: Pass, alignment: Alignment, flipped: boolean): Successor {
    const pattern = patternOf(pass);
    const { followers } = this;
    const known = followers.find((one) => one.pattern === pattern && one.flipped === flipped && sameRows(one.alignment, alignment));
    if (known !== undefined) return known.successor;
    const successor = succeed(this, pass, alignment, flipped);
    if (followers.length >= MOST_FOLLOWERS) followers.shift();
    followers.push({ pattern, flipped, alignment, successor });
    return successor;
  }
}

/** A pass placed again may be aligned a little differently, when what was learned of the scanners has changed; or another one comes between. */
const MOST_FOLLOWERS = 3;

interface Follower {
  pattern: Pattern;
  flipped: boolean;
  alignment: Alignment;
  successor: Successor;
}

function sameRows(a: Alignment, b: Alignment): boolean {
  const x = a.positionOfRow;
  const y = b.positionOfRow;
  return x === y || (x !== null && y !== null && x.length === y.length && x.every((position, row) => position === y[row]));
}

export interface Successor {
  roster: Roster;
  rosterOfRow: Int32Array;
}

const firstRosters = new WeakMap<Pass, Successor>();

/** The roster of a train first seen: its axles numbered from the head. */
export function firstRoster(pass: Pass): Successor {
  let first = firstRosters.get(pass);
  if (first === undefined) {
    const axles = Int32Array.from({ length: pass.axles }, (_, i) => i);
    first = {
      roster: new Roster(axles, pass.gapInches, null, false, pass.axles, 1, new Map(pass.tags), patternOf(pass).print),
      rosterOfRow: axles,
    };
    firstRosters.set(pass, first);
  }
  return first;
}

function succeed(before: Roster, pass: Pass, alignment: Alignment, flipped: boolean): Successor {
  const gaps = before.ordered(pass, flipped);
  if (alignment.positionOfRow === null) return sameAxles(before, pass, gaps, alignment.scale, flipped);
  const draft = mergeAxles(before, pass, gaps, alignment.positionOfRow);
  return chain(before, pass, gaps, alignment, flipped, draft);
}

function sameAxles(before: Roster, pass: Pass, gaps: Float32Array, scale: number, flipped: boolean): Successor {
  const axles = pass.axles;
  const gapInches = new Float32Array(axles);
  for (let i = 0; i < axles; i++) gapInches[i] = meanGap(before.gapInches[i]!, gaps[i]! / scale, before.legs);
  const rosterOfRow = flipped ? before.axles.slice().reverse() : before.axles;
  const tags = withTags(before.tags, pass, rosterOfRow);
  const roster = new Roster(before.axles, gapInches, null, flipped, before.next, before.legs + 1, tags, before.print);
  return { roster, rosterOfRow };
}

function meanGap(known: number, seen: number, legs: number): number {
  if (Number.isNaN(seen)) return known;
  if (Number.isNaN(known)) return seen;
  return known + (seen - known) / (Math.min(legs, MOST_MEANED - 1) + 1);
}

/** Numbers the drafted axles and measures the spacing before each. */
function chain(before: Roster, pass: Pass, gaps: Float32Array, alignment: Alignment, flipped: boolean, draft: Draft): Successor {
  const count = draft.positions.length;
  const axles = new Int32Array(count);
  const gapInches = new Float32Array(count).fill(Number.NaN);
  const rowOfPosition = new Int32Array(count);
  const rosterOfRow = new Int32Array(pass.axles).fill(-1);
  let next = before.next;
  for (let k = 0; k < count; k++) {
    const position = draft.positions[k]!;
    const row = draft.rows[k]!;
    const number = position >= 0 ? before.axles[position]! : next++;
    axles[k] = number;
    const passRow = row < 0 ? -1 : flipped ? pass.axles - 1 - row : row;
    rowOfPosition[k] = passRow;
    if (passRow >= 0) rosterOfRow[passRow] = number;
    if (k > 0) gapInches[k] = gapBetween(before, gaps, alignment.scale, draft, k);
  }
  const tags = withTags(before.tags, pass, rosterOfRow);
  const roster = new Roster(axles, gapInches, rowOfPosition, flipped, next, before.legs + 1, tags, fingerprint(gapInches));
  return { roster, rosterOfRow };
}

function gapBetween(before: Roster, gaps: Float32Array, scale: number, draft: Draft, k: number): number {
  const fromPosition = draft.positions[k - 1]!;
  const toPosition = draft.positions[k]!;
  const fromRow = draft.rows[k - 1]!;
  const toRow = draft.rows[k]!;
  const bothPositions = fromPosition >= 0 && toPosition >= 0;
  const bothRows = fromRow >= 0 && toRow >= 0;
  if (bothPositions && toPosition === fromPosition + 1) {
    const known = before.gapInches[toPosition]!;
    return bothRows && toRow === fromRow + 1 ? meanGap(known, gaps[toRow]! / scale, before.legs) : known;
  }
  if (bothRows) return sum(gaps, fromRow, toRow) / scale;
  return bothPositions ? sum(before.gapInches, fromPosition, toPosition) : Number.NaN;
}

function sum(gaps: Float32Array, from: number, to: number): number {
  let inches = 0;
  for (let i = from + 1; i <= to; i++) inches += gaps[i]!;
  return inches;
}

function withTags(known: ReadonlyMap<number, string>, pass: Pass, rosterOfRow: Int32Array): ReadonlyMap<number, string> {
  if (pass.tags.size === 0) return known;
  let tags: Map<number, string> | null = null;
  for (const [row, tag] of pass.tags) {
    const number = rosterOfRow[row] ?? -1;
    if (number < 0 || known.get(number) === tag) continue;
    tags ??= new Map(known);
    tags.set(number, tag);
  }
  return tags ?? known;
}
