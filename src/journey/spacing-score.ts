import type { RowWorth, Scoring } from "./lattice.ts";

/** Two wheels cannot stand nearer than this (common practice: a wheel is 28 to 38 inches across and clears its neighbour). */
export const LEAST_AXLE_INCHES = 45;
/** Residual of one spacing of the same train at two sites, inches (assumption: about 1 inch at each site). */
export const RESIDUAL_SD_INCHES = 1.6;
/** A spacing that differs more than this (inches, plus a share of its length) is not the same spacing. */
export const TOLERANCE_INCHES = 6;
export const TOLERANCE_SHARE = 0.004;

/** Log-odds of edits (assumptions): one axle in about 1,000 is missed or doubled; cars are set out or picked up on one leg in about 100. */
export const SINGLE_NATS = 7;
export const RUN_NATS = 12;
export const RUN_AXLE_NATS = 0.05;
/** A matching spacing against any spacing of another train. */
const MATCH_NATS = 2.5;
/** A spacing that is plainly wrong (a speed glitch) although the axles are the same. */
const OUTLIER_NATS = -7;
/** Nothing was measured: neither for nor against. */
const UNKNOWN_NATS = 0.5;
/** Coupled ends of two vehicles: last axle of one to first axle of the next (common practice 5.5 to 14 ft; below 80 inches it is rather a truck). */
const COUPLED_FROM_INCHES = 80;
const COUPLED_TO_INCHES = 220;
/** Of cars that overhang far (auto racks, long flat cars), common practice; and what share of the way between their trucks it is at most. */
const LONG_COUPLED_TO_INCHES = 320;
const OVERHANG_SHARE = 0.6;
/** A run of cars that does not begin or end between two vehicles. */
const NOT_COUPLED_NATS = -4;

/** No site measures spacings better than this, and none so badly that a truck could be taken for a coupling, square inches. */
const LEAST_SQUARE_INCHES = 0.4;
const MOST_SQUARE_INCHES = 6;

export function isCoupled(gapInches: number): boolean {
  return !(gapInches < COUPLED_FROM_INCHES || gapInches > COUPLED_TO_INCHES);
}

/** As `isCoupled`, also for long cars that overhang far: their coupled ends are as wide as short cars are between their trucks, but not as wide as they are themselves. */
export function isCoupledAt(gaps: Float32Array, i: number): boolean {
  const gap = gaps[i]!;
  if (!(gap > COUPLED_TO_INCHES)) return isCoupled(gap);
  const mostInches = OVERHANG_SHARE * Math.min(gaps[i - 2] ?? 0, gaps[i + 2] ?? 0);
  return gap <= LONG_COUPLED_TO_INCHES && gap < mostInches;
}

/**
 * Scores a stretch of a pass against a stretch of a roster: row i of the lattice is roster position `firstPosition + i`,
 * column j is pass row `firstRow + j`, so that (0, 0) is the matched pair before the stretch or the start of the train.
 */
export class SpacingScore implements Scoring {
  readonly extendDrop = -RUN_AXLE_NATS;
  readonly extendAdd = -RUN_AXLE_NATS;
  private reference: Float32Array = new Float32Array(0);
  private gaps: Float32Array = new Float32Array(0);
  private firstPosition = 0;
  private firstRow = 0;
  private scale = 1;
  private precision = 1;

  /** Points the scoring at a stretch; one instance is used for all. `squareInches`: mean square of the residuals to expect. */
  over(reference: Float32Array, gaps: Float32Array, firstPosition: number, firstRow: number, scale: number, squareInches: number): this {
    this.reference = reference;
    this.gaps = gaps;
    this.firstPosition = firstPosition;
    this.firstRow = firstRow;
    this.scale = scale;
    this.precision = 1 / (2 * Math.min(MOST_SQUARE_INCHES, Math.max(LEAST_SQUARE_INCHES, squareInches)));
    return this;
  }

  step(i: number, j: number): number {
    return worth(this.gaps[this.firstRow + j]! - this.scale * this.reference[this.firstPosition + i]!, this.precision);
  }

  missed(i: number, j: number): number {
    const p = this.firstPosition + i;
    return worth(this.gaps[this.firstRow + j]! - this.scale * (this.reference[p]! + this.reference[p - 1]!), this.precision) - SINGLE_NATS;
  }

  doubled(i: number, j: number): number {
    const r = this.firstRow + j;
    return worth(this.gaps[r]! + this.gaps[r - 1]! - this.scale * this.reference[this.firstPosition + i]!, this.precision) - SINGLE_NATS;
  }

  fresh(i: number, j: number): number {
    const coupled = isCoupled(this.gaps[this.firstRow + j]!) && isCoupled(this.reference[this.firstPosition + i]!);
    return coupled ? 0 : NOT_COUPLED_NATS;
  }

  worthOfRow(i: number, from: number, to: number, { steps, freshes, misses, doubles }: RowWorth): void {
    const { reference, gaps, precision, firstRow } = this;
    const p = this.firstPosition + i;
    const known = this.scale * reference[p]!;
    // Before the first position there is none that could have been missed.
    const knownOfTwo = i > 1 ? this.scale * (reference[p]! + reference[p - 1]!) : Number.NaN;
    const isCoupledThere = isCoupled(reference[p]!);
    for (let j = from; j <= to; j++) {
      const r = firstRow + j;
      const gap = gaps[r]!;
      steps[j] = worth(gap - known, precision);
      freshes[j] = isCoupledThere && isCoupled(gap) ? 0 : NOT_COUPLED_NATS;
      misses[j] = worth(gap - knownOfTwo, precision) - SINGLE_NATS;
      if (j > 1) doubles[j] = worth(gap + gaps[r - 1]! - known, precision) - SINGLE_NATS;
    }
  }

  openDrop(i: number): number {
    return isCoupled(this.reference[this.firstPosition + i]!) ? -RUN_NATS : -RUN_NATS + NOT_COUPLED_NATS;
  }

  openAdd(j: number): number {
    return isCoupled(this.gaps[this.firstRow + j]!) ? -RUN_NATS : -RUN_NATS + NOT_COUPLED_NATS;
  }
}

function worth(residualInches: number, precision: number): number {
  const nats = MATCH_NATS - residualInches * residualInches * precision;
  if (nats > OUTLIER_NATS) return nats;
  return !Number.isNaN(residualInches) ? OUTLIER_NATS : UNKNOWN_NATS;
}
