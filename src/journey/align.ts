import { type Alignment, alignEqual, editNatsOf, LEAST_VEHICLE_AXLES, measure, RUN_AROUND_COST, SINGLE_COST } from "./alignment.ts";
import { alignLattice, MOST_CELLS } from "./lattice.ts";
import { FEW, MANY, type Probing, probe, type SpacingIndex, speaksFor, speaksForMosaic } from "./probe.ts";
import { slideBySpacings } from "./slide.ts";
import { isCoupledAt, RESIDUAL_SD_INCHES, SpacingScore, TOLERANCE_INCHES } from "./spacing-score.ts";
import { Walk } from "./walk.ts";

/** Axles by which the lattice reaches back into what the walks already matched: an edit may begin before they noticed. */
const BACK_OFF = 12;
/** A walk that matched fewer axles is no anchor. */
const LEAST_ANCHOR = 16;
/** Spacings that the usual noise counts for. */
const USUAL_WEIGHT = 20;
/** A try is made once more when it left less than this share of the noise it was made with. */
const LESS_NOISE = 0.85;
/** Cars part and join between their coupled ends; elsewhere it costs this, nats (assumption). */
const NOT_COUPLED_NATS = 4;
/** A train that changed in more than four or five places between two sites is not known by its spacings any more. */
export const MOST_EDIT_NATS = 40;
/** A path in a narrow band may cost this much more than one in the full lattice before it is given up. */
const HOPELESS = 1.5;
/** A lattice this small is laid without further ado. */
const SMALL_CELLS = 20_000;
/** Slack of the band around the diagonals that are known to matter; widened when the path does not fit. */
const SLACKS = [16, 64, 256];

// One set of working columns for all alignments: the fold is single-threaded and nothing of it outlives a call.
const forward = new Walk();
const backward = new Walk();
const spacing = new SpacingScore();

/**
 * Aligns the spacings of a pass with those of a roster, both in the roster's order (see `reversedGaps`). Takes the
 * linear way where the patterns agree but for single axles, and lays a banded affine lattice over the rest only.
 * `index` is that of the reference; null: the linear way or nothing. `mostNats`: what edits may
 * cost where cars came and went in more than one place; 0: in one place only. Null: not the same train.
 */
export function align(
  reference: Float32Array,
  gaps: Float32Array,
  index: SpacingIndex | null,
  mostNats = MOST_EDIT_NATS,
): Alignment | null {
  const found = alignRoughly(reference, gaps, index, mostNats);
  if (found?.positionOfRow == null) return found;
  // Walks take what agrees for the same; which of two it is, the spacings on both sides tell together.
  const changed = pickOfTwo(reference, gaps, found.positionOfRow, found.scale);
  const slid = slideBySpacings(found, reference, gaps);
  return changed || slid ? measure(reference, reference.length, gaps, gaps.length, found.positionOfRow) : found;
}

function alignRoughly(reference: Float32Array, gaps: Float32Array, index: SpacingIndex | null, mostNats: number): Alignment | null {
  const positions = reference.length;
  const rows = gaps.length;
  if (positions === 0 || rows === 0) return null;
  if (positions === rows) {
    const equal = alignEqual(reference, gaps, rows);
    if (equal !== null) return equal;
  }
  // A walk takes single axles in its stride and nothing else, so the counts must nearly agree.
  const near = Math.abs(positions - rows) <= LEAST_VEHICLE_AXLES;
  const probing = near && index === null ? null : index === null ? undefined : probe(reference, index, gaps, FEW);
  if (probing === undefined) return null;
  if (probing !== null && !speaksFor(probing)) return null;
  if (forward.run(reference, positions, gaps, rows, 1)) {
    return measure(reference, positions, gaps, rows, forward.positionOfRow.slice(0, rows));
  }
  if (probing === null) return null;
  if (backward.run(reference, positions, gaps, rows, -1)) {
    return measure(reference, positions, gaps, rows, backward.positionOfRow.slice(0, rows));
  }
  const run = alignOneRun(reference, positions, gaps, rows);
  if (run !== null || mostNats === 0 || index === null) return run;
  const many = probe(reference, index, gaps, MANY);
  if (positions * rows > SMALL_CELLS && !speaksForMosaic(many, Math.min(1, positions / rows), mostNats)) return null;
  return alignBetween(reference, positions, gaps, rows, { ...many, mostNats });
}

/** A wheel counted again is counted right behind itself: the first is the axle unless the spacings say so much else, square inches (assumption). */
const ECHO_SQUARE_INCHES = 6 * RESIDUAL_SD_INCHES * RESIDUAL_SD_INCHES;

/**
 * An axle counted twice stands in two rows, one right behind the other. A walk takes the one that it meets, if it is near
 * enough; it is the first, unless the spacings before and after fit far better with the second. Changes the mapping in place; true when it did.
 */
function pickOfTwo(reference: Float32Array, gaps: Float32Array, positionOfRow: Int32Array, scale: number): boolean {
  let changed = false;
  for (let r = 1; r + 2 < positionOfRow.length; r++) {
    const first = positionOfRow[r]!;
    const second = positionOfRow[r + 1]!;
    const p = Math.max(first, second);
    // One of the two rows has no axle of its own, and what stands around them follows without a break.
    if (Math.min(first, second) >= 0 || p < 1 || positionOfRow[r - 1] !== p - 1 || positionOfRow[r + 2] !== p + 1) continue;
    const before = scale * reference[p]!;
    const behind = scale * reference[p + 1]!;
    const asFirst = (gaps[r]! - before) ** 2 + (gaps[r + 1]! + gaps[r + 2]! - behind) ** 2;
    const asSecond = (gaps[r]! + gaps[r + 1]! - before) ** 2 + (gaps[r + 2]! - behind) ** 2;
    const isFirst = first >= 0;
    const isSecondTold = asSecond + ECHO_SQUARE_INCHES < asFirst;
    if (isFirst !== isSecondTold) continue;
    positionOfRow[r] = isFirst ? -1 : p;
    positionOfRow[r + 1] = isFirst ? p : -1;
    changed = true;
  }
  return changed;
}

/**
 * Cars set out or picked up in one place: the walks from both ends cover all of the shorter pattern. Where cars all alike
 * leave the place open, the spacings have the say: the cut with the least residuals, between coupled ends. Linear.
 */
function alignOneRun(reference: Float32Array, positions: number, gaps: Float32Array, rows: number): Alignment | null {
  if (Math.abs(positions - rows) < LEAST_VEHICLE_AXLES) return null;
  const isSetOut = positions > rows;
  const last = isSetOut ? forward.row : forward.position;
  const first = isSetOut ? backward.row : backward.position;
  if (first > last + 1) return null;
  const shorter = isSetOut ? gaps : reference;
  const longer = isSetOut ? reference : gaps;
  const count = isSetOut ? rows : positions;
  const ahead = isSetOut ? forward.positionOfRow : rowOfPosition(forward, rows, positions);
  const behind = isSetOut ? backward.positionOfRow : rowOfPosition(backward, rows, positions);
  const scale = (forward.matched >= backward.matched ? forward : backward).scale.value;
  const square = 2 * walkedSquareInches();
  const nats = (partners: Int32Array, i: number): number => {
    if (i < 1 || partners[i]! < 1 || partners[i - 1] !== partners[i]! - 1) return 0;
    const residual = isSetOut ? shorter[i]! - scale * longer[partners[i]!]! : longer[partners[i]!]! - scale * shorter[i]!;
    const inches = Math.min(TOLERANCE_INCHES, Math.abs(residual));
    return Number.isNaN(inches) ? 0 : (inches * inches) / square;
  };
  // From the cut of the walk from the head towards the head: elements change over to the walk from the tail.
  let cut = last + 1;
  let sum = 0;
  let least = isCoupledAt(shorter, cut) ? 0 : NOT_COUPLED_NATS;
  for (let c = last; c >= Math.max(1, first); c--) {
    sum += nats(behind, c + 1) - nats(ahead, c);
    const total = sum + (isCoupledAt(shorter, c) ? 0 : NOT_COUPLED_NATS);
    if (total >= least) continue;
    least = total;
    cut = c;
  }
  const positionOfRow = new Int32Array(rows).fill(-1);
  for (let i = 0; i < count; i++) {
    const partner = i < cut ? ahead[i]! : behind[i]!;
    if (partner >= 0) positionOfRow[isSetOut ? i : partner] = isSetOut ? partner : i;
  }
  return measure(reference, positions, gaps, rows, positionOfRow);
}

function rowOfPosition(walk: Walk, rows: number, positions: number): Int32Array {
  const inverse = new Int32Array(positions).fill(-1);
  for (let r = 0; r < rows; r++) if (walk.positionOfRow[r]! >= 0) inverse[walk.positionOfRow[r]!] = r;
  return inverse;
}

/** Axles of the locomotives that change ends: one of four axles to six of six. */
const MOST_LOCOMOTIVE_AXLES = 36;

/**
 * A train that ran around: its cars in the roster's order, but the locomotives that stood at one end stand at the other.
 * `atHead`: in the roster they stand at the head. Linear. The moved axles are dropped at one end and added at the other.
 */
export function alignRunAround(reference: Float32Array, gaps: Float32Array, atHead: boolean): Alignment | null {
  const positions = reference.length;
  const rows = gaps.length;
  for (let moved = LEAST_VEHICLE_AXLES; moved <= MOST_LOCOMOTIVE_AXLES && moved < positions; moved++) {
    const cars = positions - moved;
    const from = atHead ? moved : 0;
    const way = atHead ? 1 : -1;
    if (!forward.begins(reference, cars, gaps, rows, way, from)) continue;
    forward.run(reference, cars, gaps, rows, way, from);
    const left = atHead ? rows - 1 - forward.row : forward.row;
    const whole = forward.position === (atHead ? cars - 1 : 0);
    if (!whole || left < LEAST_VEHICLE_AXLES || left > MOST_LOCOMOTIVE_AXLES) continue;
    const positionOfRow = forward.positionOfRow.slice(0, rows);
    if (atHead) for (let r = 0; r < rows; r++) if (positionOfRow[r]! >= 0) positionOfRow[r] = positionOfRow[r]! + moved;
    const alignment = measure(reference, positions, gaps, rows, positionOfRow);
    if (alignment === null) continue;
    return { ...alignment, editNats: RUN_AROUND_COST + SINGLE_COST * (alignment.missedSingly + alignment.doubled) };
  }
  return null;
}

/** A pass last axle first: element r is the spacing before the r-th axle from its end. */
export function reversedGaps(gapInches: Float32Array): Float32Array {
  const axles = gapInches.length;
  const reversed = new Float32Array(axles);
  reversed[0] = Number.NaN;
  for (let r = 1; r < axles; r++) reversed[r] = gapInches[axles - r]!;
  return reversed;
}

/** The stretch the walks left over: from the last sure pair of the forward walk to the first sure pair of the backward one. */
function alignBetween(reference: Float32Array, positions: number, gaps: Float32Array, rows: number, hull: Hull): Alignment | null {
  let startRow = -1;
  let startPosition = -1;
  if (forward.matched >= LEAST_ANCHOR) {
    // Where cars all alike were set out or picked up both walks run on over the edit: the edit lies where they overlap.
    const row = Math.min(forward.row, backward.row) - BACK_OFF;
    const position = Math.min(forward.position, backward.position) - BACK_OFF;
    for (let r = row; r >= 0; r--) {
      const p = forward.positionOfRow[r]!;
      if (p < 0 || p > position) continue;
      startRow = r;
      startPosition = p;
      break;
    }
  }
  let endRow = rows;
  let endPosition = positions;
  if (backward.matched >= LEAST_ANCHOR) {
    const row = Math.max(forward.row, backward.row) + BACK_OFF;
    const position = Math.max(forward.position, backward.position) + BACK_OFF;
    for (let r = row; r < rows; r++) {
      const p = backward.positionOfRow[r]!;
      if (p < 0 || p < position) continue;
      endRow = r;
      endPosition = p;
      break;
    }
  }
  const { low, high, scale, mostNats } = hull;
  return layLattice(reference, positions, gaps, rows, { startRow, startPosition, endRow, endPosition, low, high, scale, mostNats });
}

/** Diagonals (row minus position) on which stretches were found again, their scale, and what the edits may cost. */
interface Hull extends Pick<Probing, "low" | "high" | "scale"> {
  mostNats: number;
}

interface Stretch extends Hull {
  startRow: number;
  startPosition: number;
  endRow: number;
  endPosition: number;
}

/** Noise as the walks met it; the usual noise counts as some spacings of its own, for a walk may be short. */
function walkedSquareInches(): number {
  const usual = RESIDUAL_SD_INCHES * RESIDUAL_SD_INCHES;
  return (forward.squares + backward.squares + USUAL_WEIGHT * usual) / (forward.compared + backward.compared + USUAL_WEIGHT);
}

/** Where cars are much alike the noise decides which ones went, so it is measured once more when the first try shows it smaller. */
function layLattice(reference: Float32Array, positions: number, gaps: Float32Array, rows: number, stretch: Stretch): Alignment | null {
  const square = walkedSquareInches();
  const first = layOnce(reference, positions, gaps, rows, stretch, square);
  if (first === null || first.dropped + first.added === 0 || first.squareInches > LESS_NOISE * square) return first;
  return layOnce(reference, positions, gaps, rows, stretch, first.squareInches) ?? first;
}

function layOnce(
  reference: Float32Array,
  positions: number,
  gaps: Float32Array,
  rows: number,
  stretch: Stretch,
  squareInches: number,
): Alignment | null {
  // (0, 0) is the sure pair before the stretch, or stands for the head of the train.
  const endMatched = stretch.endRow < rows;
  const latticeRows = (endMatched ? stretch.endPosition : positions - 1) - stretch.startPosition;
  const latticeColumns = (endMatched ? stretch.endRow : rows - 1) - stretch.startRow;
  const walked = forward.matched >= backward.matched ? forward : backward;
  const scale = walked.matched >= LEAST_ANCHOR ? walked.scale.value : stretch.scale;
  const scoring = spacing.over(reference, gaps, stretch.startPosition, stretch.startRow, scale, squareInches);
  const end = latticeColumns - latticeRows;
  const shift = stretch.startRow - stretch.startPosition;
  const hullLow = stretch.low <= stretch.high ? Math.min(0, end, stretch.low - shift) : Math.min(0, end);
  const hullHigh = stretch.low <= stretch.high ? Math.max(0, end, stretch.high - shift) : Math.max(0, end);
  const positionOfRow = new Int32Array(rows).fill(-1);
  for (let r = 0; r <= stretch.startRow; r++) positionOfRow[r] = forward.positionOfRow[r]!;
  for (let r = stretch.endRow + 1; r < rows; r++) positionOfRow[r] = backward.positionOfRow[r]!;
  for (const slack of SLACKS) {
    const band = { low: hullLow - slack, high: hullHigh + slack };
    const width = Math.min(band.high, latticeColumns) - Math.max(band.low, -latticeRows) + 1;
    if ((latticeRows + 1) * width > MOST_CELLS) return null;
    const path = alignLattice(latticeRows, latticeColumns, scoring, band, endMatched);
    let matched = 0;
    for (let j = 1; j <= latticeColumns; j++) {
      const i = path.rowOfColumn[j]!;
      positionOfRow[stretch.startRow + j] = i > 0 ? stretch.startPosition + i : -1;
      if (i > 0) matched++;
    }
    // To the one side of the hull and to the other and back to the end: more unmatched than that calls for a wider band.
    const unmatched = latticeRows + latticeColumns - 2 * matched;
    const explained = 2 * (hullHigh - hullLow) - Math.abs(end) + 2 * slack;
    // With what the walks matched beside the stretch too few in all: a wider band makes no train of it.
    if (2 * (matched + rows - 1 - latticeColumns) < Math.min(positions, rows)) return null;
    // A wider band heals a cut too many or two, not this.
    if (editNatsOf(positions, rows, positionOfRow) > HOPELESS * stretch.mostNats) return null;
    if (!path.touchedEdge && unmatched <= explained) break;
    if (width >= latticeRows + latticeColumns) break;
  }
  const alignment = measure(reference, positions, gaps, rows, positionOfRow);
  return alignment !== null && alignment.editNats <= stretch.mostNats ? alignment : null;
}
