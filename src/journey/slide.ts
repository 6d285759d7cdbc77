import { type Alignment, LEAST_VEHICLE_AXLES } from "./alignment.ts";
import { KeptWarmth } from "./kept-warmth.ts";
import { type Fit, fits, partNats, type Run, spacingNats, warmthNats } from "./run-fit.ts";
import { cutInTwo } from "./two-places.ts";
import type { WarmthQuestion } from "./warmth.ts";

/** Lead of one place over any other from which on it is sure (20 to 1); below what a cut inside a vehicle costs. */
const TOLD_NATS = 3;

export interface Slid {
  alignment: Alignment;
  /** Which cars of a block went or came is told well enough. */
  told: boolean;
}

/**
 * Moves each run of cars set out or picked up to where spacings and warmth together say it belongs: every bearing is a
 * little warmer or cooler than its side, mile after mile, and that tells cars apart that no spacing does. `gaps` in the
 * roster's order. Keeps the alignment itself where nothing moves.
 */
export function slideRuns(alignment: Alignment, q: WarmthQuestion, gaps: Float32Array): Slid {
  const rows = alignment.positionOfRow;
  if (rows === null || alignment.dropped + alignment.added === 0) return { alignment, told: true };
  const fit: Fit = { alignment, warmth: new KeptWarmth(q), reference: q.roster.gapInches, gaps };
  const moved = rows.slice();
  const first = slideAll(fit, moved);
  if (!splitAll(fit, moved) && !first.moved) return { alignment, told: first.told };
  // With many cars under others' names warmth seemed to be kept badly; now it may tell more.
  fit.warmth?.fit(moved);
  const { told } = slideAll(fit, moved);
  return { alignment: { ...alignment, positionOfRow: moved }, told };
}

/**
 * Moves each run of cars set out or picked up to where the spacings alone say it belongs, changing the mapping in place.
 * Whether anything moved.
 */
export function slideBySpacings(alignment: Alignment, reference: Float32Array, gaps: Float32Array): boolean {
  const rows = alignment.positionOfRow;
  if (rows === null || alignment.dropped + alignment.added === 0) return false;
  return slideAll({ alignment, warmth: null, reference, gaps }, rows).moved;
}

function slideAll(fit: Fit, rows: Int32Array): { moved: boolean; told: boolean } {
  let moved = false;
  let told = true;
  for (const run of runsOf(rows, fit.reference.length)) {
    const { cut, leadNats } = bestCut(fit, run);
    if (leadNats < TOLD_NATS) told = false;
    if (cut === run.cut) continue;
    moved = true;
    move(rows, run, cut);
  }
  return { moved, told };
}

/** Cuts runs that are two; whether any was. */
function splitAll(fit: Fit, rows: Int32Array): boolean {
  let split = false;
  for (const run of runsOf(rows, fit.reference.length)) {
    const two = cutInTwo(fit, run);
    if (two === null) continue;
    split = true;
    move(rows, { ...run, to: two.second - 1, length: two.length }, two.first);
    const rest = { ...run, from: two.second, offset: run.offset + two.length, length: run.length - two.length };
    move(rows, rest, two.second);
  }
  return split;
}

function runsOf(rows: Int32Array, positions: number): Run[] {
  const runs: Run[] = [];
  let before = -1;
  for (let r = 0; r <= rows.length; r++) {
    const p = r < rows.length ? rows[r]! : positions;
    if (p < 0) continue;
    const known = before < 0 ? -1 : rows[before]!;
    const gone = p - known - 1;
    const fresh = r - before - 1;
    if (fresh === 0 && gone >= LEAST_VEHICLE_AXLES) {
      const [from, to] = stretches(rows, before, r);
      runs.push({ setOut: true, from, cut: r, to, offset: known - before, length: gone });
    } else if (gone === 0 && fresh >= LEAST_VEHICLE_AXLES) {
      const [from, to] = stretches(rows, before, r);
      runs.push({
        setOut: false,
        from: rows[from] ?? positions,
        cut: p,
        to: to < 0 ? -1 : rows[to]!,
        offset: before - known,
        length: fresh,
      });
    }
    before = r;
  }
  return runs;
}

/** First and last row of the two diagonals that meet between the rows `before` and `after`; at an end of the train there is only one. */
function stretches(rows: Int32Array, before: number, after: number): [number, number] {
  return [before < 0 ? after : stretch(rows, before, -1), after === rows.length ? before : stretch(rows, after, 1)];
}

/** The farthest row that stands on the same diagonal without a break. */
function stretch(rows: Int32Array, row: number, way: 1 | -1): number {
  let r = row;
  while (rows[r + way] === rows[r]! + way && rows[r + way]! >= 0) r += way;
  return r;
}

/** The best place of the cut between the two diagonals, and by how much it leads over the next best. */
interface Cut {
  cut: number;
  leadNats: number;
}

function bestCut(fit: Fit, run: Run): Cut {
  const { cut, from, to, offset, length } = run;
  const first = offset;
  const second = offset + length;
  const count = run.setOut ? fit.gaps.length : fit.reference.length;
  // At an end of the train all may stand on one diagonal.
  const least = from === 0 ? 0 : from + 1;
  const most = to === count - 1 ? count : to;
  const asFound = partNats(fit, run, cut, first, second);
  const best: Best = { cut, nats: asFound, freshNats: asFound, next: Number.POSITIVE_INFINITY };
  let nats = 0;
  // Towards the head: elements change from the first diagonal to the second.
  for (let b = cut - 1; b >= least; b--) {
    if (!fits(fit, run, b + 1, second)) break;
    nats += spacingNats(fit, run, b + 1, second) - spacingNats(fit, run, b, first);
    nats += warmthNats(fit, run, b, second) - warmthNats(fit, run, b, first);
    consider(best, b, nats, partNats(fit, run, b, first, second));
  }
  nats = 0;
  for (let b = cut + 1; b <= most; b++) {
    if (!fits(fit, run, b - 1, first)) break;
    nats += spacingNats(fit, run, b - 1, first) - spacingNats(fit, run, b, second);
    nats += warmthNats(fit, run, b - 1, first) - warmthNats(fit, run, b - 1, second);
    consider(best, b, nats, partNats(fit, run, b, first, second));
  }
  return { cut: best.cut, leadNats: best.next - best.nats };
}

interface Best {
  cut: number;
  nats: number;
  /** Of which for a cut inside a vehicle. */
  freshNats: number;
  /** The next best between two vehicles: a cut inside one leaves the same cars. */
  next: number;
}

function consider(best: Best, cut: number, slidNats: number, freshNats: number): void {
  const nats = slidNats + freshNats;
  if (nats >= best.nats) {
    if (freshNats === 0 && nats < best.next) best.next = nats;
    return;
  }
  if (best.freshNats === 0) best.next = best.nats;
  best.nats = nats;
  best.freshNats = freshNats;
  best.cut = cut;
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
