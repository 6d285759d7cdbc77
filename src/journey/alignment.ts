import { LEAST_MATCHED_SHARE } from "./fingerprint.ts";
import { MOST_SCALE_DIFFERENCE, scaleOf } from "./scale.ts";
import { TOLERANCE_INCHES, TOLERANCE_SHARE } from "./spacing-score.ts";

/** No vehicle has fewer axles: a shorter run was miscounted, not set out or picked up. */
export const LEAST_VEHICLE_AXLES = 4;
/**
 * What edits cost when trains are weighed against each other: cars set out or picked up on one leg in about 100, in a
 * second place much more rarely, and a mosaic of pieces can be laid from any other train; a miscounted axle costs little,
 * for another train of the same cars would have to be miscounted just so. Assumptions.
 */
const RUN_COST = 4.5;
export const FURTHER_RUN_COST = 9;
export const SINGLE_COST = 1;
/** A train that comes back last car first brings its locomotives to the other end: nearly always so, hardly a cost. */
export const RUN_AROUND_COST = 2;
/** Fewer matched axles than this say nothing. */
const LEAST_MATCHED = 8;
/** Squared residual of an outlier, inches: it counts against, but no more than this. */
const MOST_SQUARE_INCHES = 36;

/** How the axles of a pass are those of a roster. Rows and positions both in the roster's order. */
export interface Alignment {
  /** Position of each row, -1 for a row that has none; null when row i simply is position i. */
  positionOfRow: Int32Array | null;
  matched: number;
  /** In runs of a vehicle or more: set out, picked up. */
  dropped: number;
  added: number;
  /** In shorter runs: not counted, counted too much. */
  missedSingly: number;
  doubled: number;
  /** What the edits cost, natural logarithm, above 0. */
  editNats: number;
  /** Spacing scale of the pass against the roster. */
  scale: number;
  /** Mean square of the residuals after the scale, and of how many spacings. */
  squareInches: number;
  compared: number;
}

/** The usual case: same count, every spacing within tolerance. Two short loops; null when it is not so. */
export function alignEqual(reference: Float32Array, gaps: Float32Array, axles: number): Alignment | null {
  const scale = scaleOf(reference, gaps, axles);
  if (Math.abs(scale - 1) > MOST_SCALE_DIFFERENCE) return null;
  let squares = 0;
  let compared = 0;
  for (let i = 1; i < axles; i++) {
    const known = scale * reference[i]!;
    const residual = gaps[i]! - known;
    const tolerance = TOLERANCE_INCHES + TOLERANCE_SHARE * known;
    if (residual > tolerance || residual < -tolerance) return null;
    if (!Number.isNaN(residual)) {
      squares += residual * residual;
      compared++;
    }
  }
  if (axles < LEAST_MATCHED || compared < LEAST_MATCHED_SHARE * (axles - 1)) return null;
  return {
    positionOfRow: null,
    matched: axles,
    dropped: 0,
    added: 0,
    missedSingly: 0,
    doubled: 0,
    editNats: 0,
    scale,
    squareInches: squares / compared,
    compared,
  };
}

/** Counts the edits of a finished mapping and measures scale and residuals; null when too little is matched to be the same train. */
export function measure(
  reference: Float32Array,
  positions: number,
  gaps: Float32Array,
  rows: number,
  positionOfRow: Int32Array,
): Alignment | null {
  const alignment = unmeasured(positionOfRow);
  countEdits(alignment, positions, rows, positionOfRow);
  if (alignment.matched < Math.max(LEAST_MATCHED, LEAST_MATCHED_SHARE * Math.min(positions, rows))) return null;
  const seen = new Float32Array(rows);
  const known = new Float32Array(rows);
  known[0] = Number.NaN;
  for (let r = 1; r < rows; r++) {
    const p = positionOfRow[r]!;
    const follows = p > 0 && positionOfRow[r - 1] === p - 1;
    seen[r] = gaps[r]!;
    // A plainly wrong spacing must not pull the scale.
    const same = follows && Math.abs(gaps[r]! - reference[p]!) <= TOLERANCE_INCHES + MOST_SCALE_DIFFERENCE * reference[p]!;
    known[r] = same ? reference[p]! : Number.NaN;
  }
  alignment.scale = scaleOf(known, seen, rows);
  if (Math.abs(alignment.scale - 1) > MOST_SCALE_DIFFERENCE) return null;
  let squares = 0;
  for (let r = 1; r < rows; r++) {
    const residual = seen[r]! - alignment.scale * known[r]!;
    const square = residual * residual;
    if (Number.isNaN(square)) continue;
    squares += Math.min(square, MOST_SQUARE_INCHES);
    alignment.compared++;
  }
  if (alignment.compared < LEAST_MATCHED_SHARE * (alignment.matched - 1)) return null;
  alignment.squareInches = squares / alignment.compared;
  return alignment;
}

function unmeasured(positionOfRow: Int32Array): Alignment {
  return {
    positionOfRow,
    matched: 0,
    dropped: 0,
    added: 0,
    missedSingly: 0,
    doubled: 0,
    editNats: 0,
    scale: 1,
    squareInches: 0,
    compared: 0,
  };
}

function runCost(alignment: Alignment): number {
  return alignment.dropped + alignment.added > 0 ? FURTHER_RUN_COST : RUN_COST;
}

/** What the edits of a mapping cost, natural logarithm. */
export function editNatsOf(positions: number, rows: number, positionOfRow: Int32Array): number {
  const alignment = unmeasured(positionOfRow);
  countEdits(alignment, positions, rows, positionOfRow);
  return alignment.editNats;
}

function countEdits(alignment: Alignment, positions: number, rows: number, positionOfRow: Int32Array): void {
  let previous = -1;
  let loose = 0;
  for (let r = 0; r <= rows; r++) {
    const p = r < rows ? positionOfRow[r]! : positions;
    if (p < 0) {
      loose++;
      continue;
    }
    const gone = p - previous - 1;
    if (gone >= LEAST_VEHICLE_AXLES) {
      alignment.editNats += runCost(alignment);
      alignment.dropped += gone;
    } else {
      alignment.missedSingly += gone;
      alignment.editNats += SINGLE_COST * gone;
    }
    if (loose >= LEAST_VEHICLE_AXLES) {
      alignment.editNats += runCost(alignment);
      alignment.added += loose;
    } else {
      alignment.doubled += loose;
      alignment.editNats += SINGLE_COST * loose;
    }
    previous = p;
    loose = 0;
    if (r < rows) alignment.matched++;
  }
}
