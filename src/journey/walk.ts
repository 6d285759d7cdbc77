import { ScaleEstimate } from "./scale.ts";
import { LEAST_AXLE_INCHES, TOLERANCE_INCHES, TOLERANCE_SHARE } from "./spacing-score.ts";

/** Spacings that must agree after a miscounted axle before the walk believes in it. */
const FOLLOWING = 8;
/** Spacings out of tolerance that one walk passes over although the axles agree: one, and one more per this many axles. */
const AXLES_PER_OUTLIER = 100;

/**
 * Walks two spacing patterns from one end as long as they agree, taking single axles missed or doubled in its stride.
 * Linear; most joins need nothing else. Forward it begins with the first axles matched, backward with the last.
 */
export class Walk {
  /** Roster position of each row it got over, -1 elsewhere. */
  positionOfRow = new Int32Array(0);
  /** Where it stopped: the last matched pair. */
  position = 0;
  row = 0;
  matched = 0;
  /** Sum of the squared residuals of the spacings it agreed with, and how many. */
  squares = 0;
  compared = 0;
  readonly scale = new ScaleEstimate();
  private reference: Float32Array = new Float32Array(0);
  /** Where in the reference its positions begin. */
  private from = 0;
  private gaps: Float32Array = new Float32Array(0);
  private positions = 0;
  private rows = 0;
  private way: 1 | -1 = 1;

  /**
   * True when it reached the other end of both. Of the reference only `positions` positions from `from` on are walked, and
   * counted from there.
   */
  run(reference: Float32Array, positions: number, gaps: Float32Array, rows: number, way: 1 | -1, from = 0): boolean {
    this.over(reference, positions, gaps, rows, way, from);
    if (this.positionOfRow.length < rows) this.positionOfRow = new Int32Array(Math.max(rows, 2048));
    this.positionOfRow.fill(-1, 0, rows);
    this.squares = 0;
    this.compared = 0;
    // Forward, the spacing before axle i + 1 is the next one; backward, the one before axle i.
    const up = way === 1 ? 1 : 0;
    const lastPosition = way === 1 ? positions - 1 : 0;
    const lastRow = way === 1 ? rows - 1 : 0;
    let outliers = 1 + Math.floor(rows / AXLES_PER_OUTLIER);
    let p = way === 1 ? 0 : positions - 1;
    let r = way === 1 ? 0 : rows - 1;
    this.positionOfRow[r] = p;
    this.matched = 1;
    while (p !== lastPosition && r !== lastRow) {
      const known = reference[from + p + up]!;
      const seen = gaps[r + up]!;
      if (this.agrees(known, seen)) {
        if (!Number.isNaN(known) && !Number.isNaN(seen)) this.learn(known, seen);
        p += way;
        r += way;
      } else if (
        p + way !== lastPosition &&
        this.agrees(known + reference[from + p + way + up]!, seen) &&
        this.follows(p + 2 * way, r + way)
      ) {
        p += 2 * way;
        r += way;
      } else if (r + way !== lastRow && this.agrees(known, seen + gaps[r + way + up]!) && this.follows(p + way, r + 2 * way)) {
        p += way;
        r += 2 * way;
      } else if (r + way !== lastRow && seen < LEAST_AXLE_INCHES && this.follows(p, r + way)) {
        // It took the first of two rows of one axle, near enough as that was; the second fits what follows.
        this.positionOfRow[r] = -1;
        this.matched--;
        r += way;
      } else if (outliers > 0 && this.follows(p + way, r + way)) {
        outliers--;
        p += way;
        r += way;
      } else {
        break;
      }
      this.positionOfRow[r] = p;
      this.matched++;
    }
    this.position = p;
    this.row = r;
    return p === lastPosition && r === lastRow;
  }

  /** False when `run` with the same would stop where it begins. Far quicker than that, and most walks that are tried do. */
  begins(reference: Float32Array, positions: number, gaps: Float32Array, rows: number, way: 1 | -1, from: number): boolean {
    this.over(reference, positions, gaps, rows, way, from);
    const up = way === 1 ? 1 : 0;
    const p = way === 1 ? 0 : positions - 1;
    const r = way === 1 ? 0 : rows - 1;
    if (positions < 2 || rows < 2) return true;
    if (this.agrees(reference[from + p + up]!, gaps[r + up]!)) return true;
    return this.follows(p + way, r + way) || this.follows(p + 2 * way, r + way) || this.follows(p + way, r + 2 * way);
  }

  private over(reference: Float32Array, positions: number, gaps: Float32Array, rows: number, way: 1 | -1, from: number): void {
    this.reference = reference;
    this.from = from;
    this.gaps = gaps;
    this.positions = positions;
    this.rows = rows;
    this.way = way;
    this.scale.reset();
  }

  private learn(known: number, seen: number): void {
    this.scale.learn(known, seen);
    const residual = seen - this.scale.value * known;
    this.squares += residual * residual;
    this.compared++;
  }

  /** A spacing that was not measured agrees with everything. */
  private agrees(known: number, seen: number): boolean {
    const difference = Math.abs(seen - this.scale.value * known);
    return !(difference > TOLERANCE_INCHES + TOLERANCE_SHARE * known && difference > TOLERANCE_INCHES + this.scale.slackInches(known));
  }

  /** The next spacings after this pair agree as they stand: enough of them, or all that are left. */
  private follows(position: number, row: number): boolean {
    const up = this.way === 1 ? 1 : 0;
    const leftPositions = this.way === 1 ? this.positions - 1 - position : position;
    const leftRows = this.way === 1 ? this.rows - 1 - row : row;
    const left = Math.min(FOLLOWING, leftPositions, leftRows);
    // Too near the end to tell: only a walk that ends both at once is believed.
    if (left < FOLLOWING && leftPositions !== leftRows) return false;
    for (let k = 0; k < left; k++) {
      if (!this.agrees(this.reference[this.from + position + k * this.way + up]!, this.gaps[row + k * this.way + up]!)) return false;
    }
    return true;
  }
}
