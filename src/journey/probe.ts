import { FURTHER_RUN_COST, SINGLE_COST } from "./alignment.ts";
import { TOLERANCE_INCHES } from "./spacing-score.ts";

/** Spacings from here on lie between the trucks of a vehicle: few of a kind, so they are quick to look up. */
const TELLING_INCHES = 190;
const BIN_INCHES = 16;
const BINS = 64;
/** Stretches of the pass looked for: a few at first, about one a car before a lattice is laid. */
export const FEW = 10;
export const MANY = 60;
const MOST_FOUND = 2 * MANY + 2;
/** How far each reaches to both sides of its telling spacing: about three cars; and how far they are apart at least. */
const REACH = 6;
const LEAST_STEP = 4;
/** Two sites' scales may differ by this share; once a stretch agrees so far, its own scale is taken out and noise alone is left. */
const SCALE_SHARE = 0.03;
const NOISE_INCHES = 0.75 * TOLERANCE_INCHES;
/** Scales of stretches of one train at two sites differ by less: the noise of some thirteen spacings. */
const SAME_SCALE = 0.0075;
/** Diagonals nearer than this are one: an axle or two were miscounted between the stretches. */
const SAME_DIAGONAL = 3;
/** A stretch found in more places than this says nothing of where it belongs: cars all alike. */
const TELLING_PLACES = 3;

/** Where the telling spacings of a roster are, by length. */
export interface SpacingIndex {
  /** First entry of each bin in `positions`; one more than there are bins. */
  starts: Int32Array;
  positions: Int32Array;
}

export function indexSpacings(reference: Float32Array): SpacingIndex {
  const starts = new Int32Array(BINS + 1);
  const axles = reference.length;
  for (let i = 1; i < axles; i++) {
    const bin = binOf(reference[i]!);
    if (bin >= 0) starts[bin + 1]!++;
  }
  for (let b = 0; b < BINS; b++) starts[b + 1]! += starts[b]!;
  const positions = new Int32Array(starts[BINS]!);
  const at = starts.slice();
  for (let i = 1; i < axles; i++) {
    const bin = binOf(reference[i]!);
    if (bin >= 0) positions[at[bin]!++] = i;
  }
  return { starts, positions };
}

/** -1 for a spacing that tells nothing, NaN included. */
function binOf(gapInches: number): number {
  return gapInches >= TELLING_INCHES ? Math.min(BINS - 1, (gapInches / BIN_INCHES) | 0) : -1;
}

/** On which diagonals (row minus position) stretches of a pass were found again. */
export interface Probing {
  tried: number;
  /** Found at the one scale that most stretches agree on. */
  found: number;
  /** That scale. */
  scale: number;
  /** Of these, how many stand on a diagonal of their own, not that of the stretch before or after: chance, as a rule. */
  alone: number;
  /** Hull of the diagonals of the telling ones that do not stand alone; low > high when there is none. */
  low: number;
  high: number;
  /** What it takes in edits to reach the diagonals of the telling ones that do not stand alone, natural logarithm. */
  editNats: number;
}

/** Of the stretches looked for, so many must be found again, most of them beside each other, before anything is aligned. */
const LEAST_FOUND_SHARE = 0.4;
const MOST_ALONE_SHARE = 0.6;

export function speaksFor(probing: Probing): boolean {
  return probing.found >= LEAST_FOUND_SHARE * probing.tried && probing.alone <= 1 + MOST_ALONE_SHARE * probing.found;
}

/** A train with this share of its stretches lost, of those it can have, is another one: every change of cars costs it two or three. */
const LEAST_BESIDE_SHARE = 0.5;

/** Of many stretches: enough beside each other, and no more changes between them than `mostNats` allows. */
export function speaksForMosaic(probing: Probing, share: number, mostNats: number): boolean {
  return probing.editNats <= mostNats && probing.found - probing.alone >= LEAST_BESIDE_SHARE * share * probing.tried;
}

// Of each stretch found: scale and diagonal, and in how many places. Overwritten by every call.
const scales = new Float64Array(MOST_FOUND);
const diagonals = new Int32Array(MOST_FOUND);
const placesOf = new Int32Array(MOST_FOUND);
/** Diagonals of the telling ones so far. */
const toldOn = new Int32Array(MOST_FOUND);
let matchScale = 1;

/**
 * Looks for a few stretches of a pass in a roster. Cheap (about a microsecond), so that walks and lattices are spent
 * only on a train that may be the same, with a band that holds it.
 */
export function probe(reference: Float32Array, index: SpacingIndex, gaps: Float32Array, stretches: number): Probing {
  const rows = gaps.length;
  const step = Math.max(stretches === FEW ? REACH + 1 : LEAST_STEP, Math.floor((rows - 2 * REACH - 1) / stretches));
  let tried = 0;
  let hits = 0;
  let diagonal = 0;
  // Nearly all stretches lie between the diagonals of the two ends: cars are seldom both set out and picked up.
  const end = rows - reference.length;
  for (let row = REACH + 1; row < rows - REACH && tried < MOST_FOUND; row += step) {
    while (row < rows - REACH && binOf(gaps[row]!) < 0) row++;
    if (row >= rows - REACH) break;
    tried++;
    if (!look(reference, index, gaps, row, diagonal, end, hits)) continue;
    diagonal = diagonals[hits]!;
    hits++;
  }
  return summarize(tried, hits);
}

/** Looks a stretch up; of several places takes the likeliest diagonal: between the ends, and near that of the stretch before. */
function look(
  reference: Float32Array,
  index: SpacingIndex,
  gaps: Float32Array,
  row: number,
  before: number,
  end: number,
  hit: number,
): boolean {
  const bin = binOf(gaps[row]!);
  let places = 0;
  let nearest = Number.MAX_SAFE_INTEGER;
  const to = index.starts[Math.min(BINS, bin + 2)]!;
  for (let k = index.starts[Math.max(0, bin - 1)]!; k < to; k++) {
    const position = index.positions[k]!;
    if (!found(reference, position, gaps, row)) continue;
    places++;
    const diagonal = row - position;
    const outside = Math.max(0, Math.min(0, end) - diagonal, diagonal - Math.max(0, end));
    const away = outside + Math.abs(diagonal - before);
    if (away >= nearest) continue;
    nearest = away;
    scales[hit] = matchScale;
    diagonals[hit] = diagonal;
  }
  placesOf[hit] = places;
  return places > 0;
}

/** Agrees spacing by spacing, roughly at first and then with the scale of the stretch taken out, which is left in `matchScale`. */
function found(reference: Float32Array, position: number, gaps: Float32Array, row: number): boolean {
  if (position <= REACH || position + REACH >= reference.length) return false;
  let knownInches = 0;
  let seenInches = 0;
  for (let k = -REACH; k <= REACH; k++) {
    const known = reference[position + k]!;
    const difference = gaps[row + k]! - known;
    const tolerance = NOISE_INCHES + SCALE_SHARE * known;
    if (difference > tolerance || difference < -tolerance) return false;
    if (Number.isNaN(difference)) continue;
    knownInches += known;
    seenInches += known + difference;
  }
  matchScale = seenInches / knownInches;
  for (let k = -REACH; k <= REACH; k++) {
    const residual = gaps[row + k]! - matchScale * reference[position + k]!;
    if (residual > NOISE_INCHES || residual < -NOISE_INCHES) return false;
  }
  return true;
}

/** A diagonal that none of those before it stands on takes an edit to reach; coming back to one may be chance that the lattice steps over. */
function newcomerNats(told: number, diagonal: number): number {
  let nearest = Number.MAX_SAFE_INTEGER;
  for (let k = told - 1; k >= 0 && nearest > 0; k--) nearest = Math.min(nearest, Math.abs(diagonal - toldOn[k]!));
  return nearest <= SAME_DIAGONAL ? SINGLE_COST * nearest : FURTHER_RUN_COST;
}

/** A site has one scale: stretches that need another are chance. */
function summarize(tried: number, hits: number): Probing {
  const result: Probing = { tried, found: 0, scale: 1, alone: 0, low: Number.MAX_SAFE_INTEGER, high: Number.MIN_SAFE_INTEGER, editNats: 0 };
  if (hits === 0) return result;
  const scale = scales.slice(0, hits).sort()[hits >> 1]!;
  result.scale = scale;
  let kept = 0;
  for (let k = 0; k < hits; k++) {
    if (Math.abs(scales[k]! - scale) > SAME_SCALE) continue;
    diagonals[kept] = diagonals[k]!;
    placesOf[kept] = placesOf[k]!;
    kept++;
  }
  result.found = kept;
  let told = 0;
  for (let k = 0; k < kept; k++) {
    const diagonal = diagonals[k]!;
    const asBefore = k > 0 && Math.abs(diagonal - diagonals[k - 1]!) <= SAME_DIAGONAL;
    const asAfter = k + 1 < kept && Math.abs(diagonal - diagonals[k + 1]!) <= SAME_DIAGONAL;
    if (!asBefore && !asAfter) {
      result.alone++;
      continue;
    }
    if (placesOf[k]! > TELLING_PLACES) continue;
    if (told > 0) result.editNats += newcomerNats(told, diagonal);
    toldOn[told++] = diagonal;
    result.low = Math.min(result.low, diagonal);
    result.high = Math.max(result.high, diagonal);
  }
  return result;
}
