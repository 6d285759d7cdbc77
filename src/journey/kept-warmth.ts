import { type Journey, railOfSide } from "./journey.ts";
import type { WarmthQuestion } from "./warmth.ts";

/** Legs whose readings are meaned: more would reach back to other loads and other weather (assumption). */
const MOST_LEGS = 8;
/** A hot bearing must not decide which cars went: what is over this many spreads counts as this many. */
const MOST_SPREADS = 2.5;
const LEAST_BEARINGS = 40;
const LEAST_SQUARE_ERROR_F = 1;

/**
 * What each bearing of a journey was over its side, leg by leg, meaned; and how well that foretells a pass. Bearings
 * keep a little warmth or coolness of their own all day, and that tells cars apart that no spacing does.
 */
export class KeptWarmth {
  private readonly q: WarmthQuestion;
  /** Mean excess by roster number, for both sides; NaN where never measured. */
  private readonly means: [Float32Array, Float32Array];
  private kept = 0;
  private squareErrorF = Number.POSITIVE_INFINITY;

  constructor(q: WarmthQuestion, journey: Journey) {
    this.q = q;
    this.means = [meanExcess(q, journey, 0), meanExcess(q, journey, 1)];
    this.fit(q.positionOfRow);
  }

  /** How badly the two bearings of a row fit those of a position: nats, the less the better; 0 where nothing was measured. */
  unlikeness(row: number, position: number): number {
    let nats = 0;
    for (const side of [0, 1] as const) {
      const error = this.excessNow(row, side) - this.kept * this.means[side][this.q.roster.axles[position]!]!;
      if (!Number.isNaN(error)) nats += (error * error) / (2 * this.squareErrorF);
    }
    return nats;
  }

  private excessNow(row: number, side: 0 | 1): number {
    const { levels, axles, flipped, falling } = this.q;
    const rail = (side ^ (flipped ? 1 : 0) ^ (falling ? 1 : 0)) as 0 | 1;
    return capped(levels.excessF[rail][flipped ? axles - 1 - row : row]!, levels.spreadF[rail]);
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
        const now = this.excessNow(row, side);
        const mean = this.means[side][roster.axles[position]!]!;
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

function meanExcess(q: WarmthQuestion, journey: Journey, side: 0 | 1): Float32Array {
  const sums = new Float32Array(journey.rosterAxles);
  const counts = new Uint8Array(journey.rosterAxles);
  for (const leg of journey.legs.slice(-MOST_LEGS)) {
    const rail = (railOfSide(leg, side) ^ (q.lastDirectionFlipped ? 1 : 0)) as 0 | 1;
    const excess = leg.levels.excessF[rail];
    for (let row = 0; row < leg.rosterOfRow.length; row++) {
      const number = leg.rosterOfRow[row]!;
      const value = number < 0 ? Number.NaN : capped(excess[row]!, leg.levels.spreadF[rail]);
      if (Number.isNaN(value)) continue;
      sums[number]! += value;
      counts[number]!++;
    }
  }
  for (let number = 0; number < sums.length; number++) sums[number] = sums[number]! / counts[number]!;
  return sums;
}

function capped(excessF: number, spreadF: number): number {
  const cap = MOST_SPREADS * Math.max(1, spreadF);
  return Math.min(cap, Math.max(-cap, excessF));
}
