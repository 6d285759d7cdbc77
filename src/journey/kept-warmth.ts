import { cappedF, mostExcessF } from "./usual-excess.ts";
import { usualOf, type WarmthQuestion } from "./warmth.ts";

const LEAST_BEARINGS = 40;
const LEAST_SQUARE_ERROR_F = 1;
/** What warmth counts more than spacings, whose noise is taken to be the same at coupled ends, where it is larger for the slack (fitted on simulated days). */
const WEIGHT = 5 / 3;

/** How well what the bearings of a journey usually are foretells a pass: that tells cars apart that no spacing does. */
export class KeptWarmth {
  private readonly q: WarmthQuestion;
  /** Usual excess by roster number, for both sides. */
  private readonly means: readonly [Float32Array, Float32Array];
  /** What each row is over its side, for both sides of the roster. */
  private readonly now: readonly [Float32Array, Float32Array];
  private kept = 0;
  private squareErrorF = Number.POSITIVE_INFINITY;

  constructor(q: WarmthQuestion) {
    this.q = q;
    this.means = [usualOf(q, 0), usualOf(q, 1)];
    this.now = [excessNow(q, 0), excessNow(q, 1)];
    this.fit(q.positionOfRow);
  }

  /** How badly the two bearings of a row fit those of a position: nats, the less the better; 0 where nothing was measured. */
  unlikeness(row: number, position: number): number {
    let nats = 0;
    for (const side of [0, 1] as const) {
      const error = this.now[side][row]! - this.kept * (this.means[side][this.q.roster.axles[position]!] ?? Number.NaN);
      if (!Number.isNaN(error)) nats += (WEIGHT * error * error) / (2 * this.squareErrorF);
    }
    return nats;
  }

  /** Least squares through the origin over all bearings as they are aligned; nearly all are aligned rightly. */
  fit(positionOfRow: Int32Array | null): void {
    const { axles, roster } = this.q;
    let cross = 0;
    let square = 0;
    let squareNow = 0;
    let bearings = 0;
    for (let row = 0; row < axles; row++) {
      const position = positionOfRow === null ? row : positionOfRow[row]!;
      if (position < 0) continue;
      for (const side of [0, 1] as const) {
        const now = this.now[side][row]!;
        const mean = this.means[side][roster.axles[position]!] ?? Number.NaN;
        if (Number.isNaN(now * mean)) continue;
        cross += now * mean;
        square += mean * mean;
        squareNow += now * now;
        bearings++;
      }
    }
    if (bearings < LEAST_BEARINGS || square === 0) return;
    this.kept = Math.max(0, cross / square);
    this.squareErrorF = Math.max(LEAST_SQUARE_ERROR_F, (squareNow - this.kept * cross) / bearings);
  }
}

function excessNow({ levels, axles, flipped, falling }: WarmthQuestion, side: 0 | 1): Float32Array {
  const rail = (side ^ (flipped ? 1 : 0) ^ (falling ? 1 : 0)) as 0 | 1;
  const mostF = mostExcessF(levels.spreadF[rail]);
  const column = new Float32Array(axles);
  for (let row = 0; row < axles; row++) column[row] = cappedF(levels.excessF[rail][flipped ? axles - 1 - row : row]!, mostF);
  return column;
}
