/**
 * Affine-gap alignment of two sequences (Needleman and Wunsch 1970, affine gaps after Gotoh 1982), limited to a band of
 * diagonals. What a match, a gap or a merged element is worth is the scoring's business; trains and the published
 * check run through this same code. Elements are counted from 1; the start (0, 0) counts as a match.
 */
export interface Scoring {
  /** i is matched with j right after i-1 with j-1. */
  step(i: number, j: number): number;
  /** i is matched with j after a run of dropped or added elements. */
  fresh(i: number, j: number): number;
  /** i is matched with j after i-2 with j-1: i-1 was missed. */
  missed(i: number, j: number): number;
  /** i is matched with j after i-1 with j-2: j-1 was counted too much. */
  doubled(i: number, j: number): number;
  /** First element of a dropped or added run, and each one after it. */
  openDrop(i: number): number;
  openAdd(j: number): number;
  extendDrop: number;
  extendAdd: number;
  /** The same as `step`, `fresh`, `missed` (from the second row on) and `doubled` (from column 2 on) for columns `from` to `to`, in one go. */
  worthOfRow?(i: number, from: number, to: number, worth: RowWorth): void;
}

/** What each column, by its number, is worth in one row. */
export interface RowWorth {
  steps: Float64Array;
  freshes: Float64Array;
  misses: Float64Array;
  doubles: Float64Array;
}

export interface Band {
  /** Diagonals j - i that may be used; 0 and columns - rows must lie inside. */
  low: number;
  high: number;
}

export interface LatticePath {
  score: number;
  /** Row matched with column j (index j, from 1), 0 for an added column. */
  rowOfColumn: Int32Array;
  /** The path ran along an edge of the band, so a wider one may find better. */
  touchedEdge: boolean;
}

/** Cells of one lattice at most: bounds memory (one byte each) and time (a few milliseconds). */
export const MOST_CELLS = 1_500_000;

const NEVER = Number.NEGATIVE_INFINITY;
// Bits of a cell's trace byte: where its match came from, its drop, its add.
const MATCH_MASK = 7;
const FROM_STEP = 0;
const FROM_DROP = 1;
const FROM_ADD = 2;
const FROM_MISSED = 3;
const FROM_DOUBLED = 4;
const DROP_EXTENDS = 8;
const ADD_SHIFT = 4;
const ADD_FROM_MATCH = 0;
const ADD_EXTENDS = 1;
const ADD_FROM_DROP = 2;

let trace = new Uint8Array(1 << 16);
let lanes = new Float64Array(1 << 12);
/** What each column is worth in the present row. */
let worth = roomFor(1 << 11);
let adds = new Float64Array(1 << 11);

function roomFor(columns: number): RowWorth {
  return {
    steps: new Float64Array(columns),
    freshes: new Float64Array(columns),
    misses: new Float64Array(columns),
    doubles: new Float64Array(columns),
  };
}

function makeRoom(columns: number): void {
  if (adds.length > columns) return;
  worth = roomFor(columns + 1);
  adds = new Float64Array(columns + 1);
}

/** Asks the scoring for a whole row in loops of their own: no number is boxed on its way. */
function scoreRow(scoring: Scoring, i: number, from: number, to: number): void {
  if (scoring.worthOfRow !== undefined) {
    scoring.worthOfRow(i, Math.max(1, from), to, worth);
    return;
  }
  const { steps, freshes, misses, doubles } = worth;
  for (let j = Math.max(1, from); j <= to; j++) steps[j] = scoring.step(i, j);
  for (let j = Math.max(1, from); j <= to; j++) freshes[j] = scoring.fresh(i, j);
  if (i > 1) for (let j = Math.max(1, from); j <= to; j++) misses[j] = scoring.missed(i, j);
  for (let j = Math.max(2, from); j <= to; j++) doubles[j] = scoring.doubled(i, j);
}

/**
 * Best path from the start to (rows, columns). `endMatched`: the last two elements must be matched with each other.
 * `best`, where given, receives the best score of every cell, row by row (rows + 1) x (columns + 1), for inspection.
 * Throws RangeError when the band does not hold both ends or the lattice is over its limit.
 */
export function alignLattice(
  rows: number,
  columns: number,
  scoring: Scoring,
  band: Band,
  endMatched: boolean,
  best: Float64Array | null = null,
): LatticePath {
  const low = Math.max(band.low, -rows);
  const high = Math.min(band.high, columns);
  const end = columns - rows;
  if (low > Math.min(0, end) || high < Math.max(0, end)) throw new RangeError("JOURNEY-001 the band must hold both ends of the lattice");
  const width = high - low + 1;
  if ((rows + 1) * width > MOST_CELLS) throw new RangeError(`JOURNEY-002 a lattice of ${rows + 1} x ${width} is over ${MOST_CELLS} cells`);
  if (trace.length < (rows + 1) * width) trace = new Uint8Array((rows + 1) * width);
  // Seven lanes with a sentinel at both ends: match of this row and the two before, drop and add of this row and the one before.
  const lane = width + 2;
  if (lanes.length < 7 * lane) lanes = new Float64Array(7 * lane);
  const room = lanes;
  room.fill(NEVER, 0, 7 * lane);
  makeRoom(columns);
  for (let j = 1; j <= columns; j++) adds[j] = scoring.openAdd(j);
  let match = 0;
  let match1 = lane;
  let match2 = 2 * lane;
  let drop = 3 * lane;
  let drop1 = 4 * lane;
  let add = 5 * lane;
  let add1 = 6 * lane;
  const { extendDrop, extendAdd } = scoring;
  const { steps, freshes, misses, doubles } = worth;
  for (let i = 0; i <= rows; i++) {
    const from = Math.max(0, i + low);
    const to = Math.min(columns, i + high);
    const base = i * width - i - low;
    const openDrop = i > 0 ? scoring.openDrop(i) : NEVER;
    if (i > 0) scoreRow(scoring, i, from, to);
    room.fill(NEVER, match, match + lane);
    room.fill(NEVER, drop, drop + lane);
    room.fill(NEVER, add, add + lane);
    for (let j = from; j <= to; j++) {
      const k = j - i - low + 1;
      let m = NEVER;
      let code = FROM_STEP;
      if (i > 0 && j > 0) {
        m = room[match1 + k]! + steps[j]!;
        const afterDrop = room[drop1 + k]!;
        const afterAdd = room[add1 + k]!;
        const run = Math.max(afterDrop, afterAdd);
        if (run > NEVER) {
          const fresh = run + freshes[j]!;
          if (fresh > m) {
            m = fresh;
            code = afterDrop >= afterAdd ? FROM_DROP : FROM_ADD;
          }
        }
        if (i > 1 && room[match2 + k + 1]! > NEVER) {
          const missed = room[match2 + k + 1]! + misses[j]!;
          if (missed > m) {
            m = missed;
            code = FROM_MISSED;
          }
        }
        if (j > 1 && room[match1 + k - 1]! > NEVER) {
          const doubled = room[match1 + k - 1]! + doubles[j]!;
          if (doubled > m) {
            m = doubled;
            code = FROM_DOUBLED;
          }
        }
      } else if (i === 0 && j === 0) {
        m = 0;
      }
      const dropOpened = room[match1 + k + 1]! + openDrop;
      const dropExtended = room[drop1 + k + 1]! + extendDrop;
      let d = dropOpened;
      if (dropExtended > d) {
        d = dropExtended;
        code |= DROP_EXTENDS;
      }
      let a = NEVER;
      if (j > from) {
        const open = adds[j]!;
        a = room[match + k - 1]! + open;
        const addExtended = room[add + k - 1]! + extendAdd;
        const addAfterDrop = room[drop + k - 1]! + open;
        let way = ADD_FROM_MATCH;
        if (addExtended > a) {
          a = addExtended;
          way = ADD_EXTENDS;
        }
        if (addAfterDrop > a) {
          a = addAfterDrop;
          way = ADD_FROM_DROP;
        }
        code |= way << ADD_SHIFT;
      }
      room[match + k] = m;
      room[drop + k] = d;
      room[add + k] = a;
      trace[base + j] = code;
      if (best !== null) best[i * (columns + 1) + j] = Math.max(m, d, a);
    }
    if (i === rows) break;
    const oldest = match2;
    match2 = match1;
    match1 = match;
    match = oldest;
    const oldDrop = drop1;
    drop1 = drop;
    drop = oldDrop;
    const oldAdd = add1;
    add1 = add;
    add = oldAdd;
  }
  const last = end - low + 1;
  const m = room[match + last]!;
  const d = room[drop + last]!;
  const a = room[add + last]!;
  const state = endMatched || (m >= d && m >= a) ? FROM_STEP : d >= a ? FROM_DROP : FROM_ADD;
  const score = state === FROM_STEP ? m : state === FROM_DROP ? d : a;
  return traceBack(rows, columns, low, width, state, score);
}

function traceBack(rows: number, columns: number, low: number, width: number, endState: number, score: number): LatticePath {
  const rowOfColumn = new Int32Array(columns + 1);
  let i = rows;
  let j = columns;
  let state = endState;
  let touchedEdge = false;
  // A full-width band has no edge to speak of.
  const lowEdge = low > -rows ? low : Number.MIN_SAFE_INTEGER;
  const highEdge = low + width - 1 < columns ? low + width - 1 : Number.MAX_SAFE_INTEGER;
  while (i > 0 || j > 0) {
    if (j - i === lowEdge || j - i === highEdge) touchedEdge = true;
    const code = trace[i * width + (j - i - low)]!;
    if (state === FROM_STEP) {
      rowOfColumn[j] = i;
      const came = code & MATCH_MASK;
      i -= came === FROM_MISSED ? 2 : 1;
      j -= came === FROM_DOUBLED ? 2 : 1;
      state = came === FROM_DROP ? FROM_DROP : came === FROM_ADD ? FROM_ADD : FROM_STEP;
    } else if (state === FROM_DROP) {
      if ((code & DROP_EXTENDS) === 0) state = FROM_STEP;
      i--;
    } else {
      const way = (code >> ADD_SHIFT) & 3;
      if (way === ADD_FROM_MATCH) state = FROM_STEP;
      else if (way === ADD_FROM_DROP) state = FROM_DROP;
      j--;
    }
  }
  return { score, rowOfColumn, touchedEdge };
}
