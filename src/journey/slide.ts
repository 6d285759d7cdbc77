import { type Alignment, LEAST_VEHICLE_AXLES } from "./alignment.ts";
import type { Journey } from "./journey.ts";
import { KeptWarmth } from "./kept-warmth.ts";
import { isCoupled, TOLERANCE_INCHES } from "./spacing-score.ts";
import type { WarmthQuestion } from "./warmth.ts";

/** Square residual noise of a spacing is not below this, inches, however smooth the run. */
const LEAST_SQUARE_INCHES = 0.3;
/** A run of cars that would begin or end inside a vehicle, nats (assumption). */
const NOT_COUPLED_NATS = 4;

/**
 * One run of a sequence that the other one lacks, and how far it could slide: cars set out of a block of cars all alike
 * leave spacings that say little of which ones went. The shorter sequence is the pass where cars were set out, the roster
 * where they were picked up; its elements [from, cut) stand on one diagonal of the longer, [cut, to] on the next.
 */
interface Run {
  setOut: boolean;
  from: number;
  cut: number;
  to: number;
  /** Longer index = shorter index + offset; beyond the cut + offset + length. */
  offset: number;
  length: number;
}

interface Fit {
  alignment: Alignment;
  warmth: KeptWarmth;
  reference: Float32Array;
  gaps: Float32Array;
}

/**
 * Moves each run of cars set out or picked up to where spacings and warmth together say it belongs: every bearing is a
 * little warmer or cooler than its side, mile after mile, and that tells cars apart that no spacing does. `gaps` in the
 * roster's order. Returns the alignment itself where nothing moves.
 */
export function slideRuns(alignment: Alignment, q: WarmthQuestion, journey: Journey, gaps: Float32Array): Alignment {
  const rows = alignment.positionOfRow;
  if (rows === null || alignment.dropped + alignment.added === 0) return alignment;
  const fit: Fit = { alignment, warmth: new KeptWarmth(q, journey), reference: q.roster.gapInches, gaps };
  let moved: Int32Array | null = null;
  for (const run of runsOf(rows)) {
    const cut = bestCut(fit, run);
    if (cut === run.cut) continue;
    moved ??= rows.slice();
    move(moved, run, cut);
  }
  return moved === null ? alignment : { ...alignment, positionOfRow: moved };
}

function runsOf(rows: Int32Array): Run[] {
  const runs: Run[] = [];
  let before = -1;
  for (let r = 0; r < rows.length; r++) {
    const p = rows[r]!;
    if (p < 0) continue;
    if (before >= 0) {
      const gone = p - rows[before]! - 1;
      const fresh = r - before - 1;
      const isSetOut = fresh === 0 && gone >= LEAST_VEHICLE_AXLES;
      if (isSetOut || (gone === 0 && fresh >= LEAST_VEHICLE_AXLES)) {
        const from = stretch(rows, before, -1);
        const to = stretch(rows, r, 1);
        if (isSetOut) runs.push({ setOut: true, from, cut: r, to, offset: rows[before]! - before, length: gone });
        else runs.push({ setOut: false, from: rows[from]!, cut: p, to: rows[to]!, offset: before - rows[before]!, length: fresh });
      }
    }
    before = r;
  }
  return runs;
}

/** The farthest row that stands on the same diagonal without a break. */
function stretch(rows: Int32Array, row: number, way: 1 | -1): number {
  let r = row;
  while (rows[r + way] === rows[r]! + way && rows[r + way]! >= 0) r += way;
  return r;
}

function bestCut(fit: Fit, run: Run): number {
  const { cut, from, to, offset, length } = run;
  const first = offset;
  const second = offset + length;
  let best = cut;
  let least = freshNats(fit, run, cut);
  let nats = 0;
  // Towards the head: elements change from the first diagonal to the second.
  for (let b = cut - 1; b > from; b--) {
    if (!fits(fit, run, b + 1, second)) break;
    nats += spacingNats(fit, run, b + 1, second) - spacingNats(fit, run, b, first);
    nats += warmthNats(fit, run, b, second) - warmthNats(fit, run, b, first);
    const total = nats + freshNats(fit, run, b);
    if (total >= least) continue;
    least = total;
    best = b;
  }
  nats = 0;
  for (let b = cut + 1; b <= to; b++) {
    if (!fits(fit, run, b - 1, first)) break;
    nats += spacingNats(fit, run, b - 1, first) - spacingNats(fit, run, b, second);
    nats += warmthNats(fit, run, b - 1, first) - warmthNats(fit, run, b - 1, second);
    const total = nats + freshNats(fit, run, b);
    if (total >= least) continue;
    least = total;
    best = b;
  }
  return best;
}

function residual(fit: Fit, run: Run, short: number, diagonal: number): number {
  const row = run.setOut ? short : short + diagonal;
  const position = run.setOut ? short + diagonal : short;
  return fit.gaps[row]! - fit.alignment.scale * fit.reference[position]!;
}

function fits(fit: Fit, run: Run, short: number, diagonal: number): boolean {
  return !(Math.abs(residual(fit, run, short, diagonal)) > TOLERANCE_INCHES);
}

function spacingNats(fit: Fit, run: Run, short: number, diagonal: number): number {
  const inches = Math.min(TOLERANCE_INCHES, Math.abs(residual(fit, run, short, diagonal)));
  const square = Math.max(LEAST_SQUARE_INCHES, fit.alignment.squareInches);
  return Number.isNaN(inches) ? 0 : (inches * inches) / (2 * square);
}

function warmthNats(fit: Fit, run: Run, short: number, diagonal: number): number {
  return run.setOut ? fit.warmth.unlikeness(short, short + diagonal) : fit.warmth.unlikeness(short + diagonal, short);
}

/** Vehicles part and join between their coupled ends: the new spacing and both old ones must be such. */
function freshNats(fit: Fit, run: Run, cut: number): number {
  const shorter = run.setOut ? fit.gaps : fit.reference;
  const longer = run.setOut ? fit.reference : fit.gaps;
  const coupled = isCoupled(shorter[cut]!) && isCoupled(longer[cut + run.offset]!) && isCoupled(longer[cut + run.offset + run.length]!);
  return coupled ? 0 : NOT_COUPLED_NATS;
}

function move(rows: Int32Array, run: Run, cut: number): void {
  const { from, to, offset, length } = run;
  if (run.setOut) {
    for (let r = from; r <= to; r++) rows[r] = r + offset + (r < cut ? 0 : length);
    return;
  }
  rows.fill(-1, from + offset, to + offset + length + 1);
  for (let p = from; p <= to; p++) rows[p + offset + (p < cut ? 0 : length)] = p;
}
