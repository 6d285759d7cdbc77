/**
 * Vehicles that need no thought: a pattern so plain that no other reading of the same spacings is likely. The scan is a
 * handful of comparisons a vehicle; everything else goes to the spacing chain. Limits are in inches, wide by 2 % for a
 * site's spacing scale; all are assumptions on top of the dimensions in spacing-model.ts.
 */

interface Range {
  low: number;
  high: number;
}

const TRUCK: Range = { low: 62, high: 86 };
const TRUCK_DIFFERENCE = 6;
const INNER: Range = { low: 165, high: 790 };
const COUPLING: Range = { low: 50, high: 150 };
/** A longer coupling is plain only between cars whose inner gap is far longer still. */
const LONG_COUPLING_HIGH = 330;
const LONG_COUPLING_RATIO = 1.8;
/** First gap of a car or of a locomotive with three-axle trucks. */
const NEXT_TRUCK: Range = { low: 62, high: 91 };
/** Between trucks of an articulated car: no coupling is as long, and the units are nearly of one length. */
const UNIT: Range = { low: 345, high: 740 };
const UNIT_RATIO = 1.4;
/** Coupling behind an articulated car: still far shorter than its units, and no gap between two of them. */
const UNIT_COUPLING: Range = { low: 50, high: 230 };
const ENGINE_AXLE: Range = { low: 74, high: 91 };
const ENGINE_INNER: Range = { low: 270, high: 530 };
const SHORT_ENGINE_AXLE: Range = { low: 98, high: 119 };
const SHORT_ENGINE_INNER: Range = { low: 230, high: 395 };
/** Longer ones are left to the chain: the first axle behind may have been missed. */
const ENGINE_COUPLING: Range = { low: 50, high: 185 };

/** Plain vehicles left to the chain at the end of a doubtful stretch, before one more; behind a long coupling it needs more of them. */
const CONTEXT = 1;
const LONG_CONTEXT = 3;

/**
 * Axles of the plain vehicle that begins at `row` and ends before `rows`, 0 when nothing is plain; negative for a
 * locomotive.
 */
export function plainVehicle(gapInches: Float32Array, row: number, rows: number): number {
  if (row + 4 > rows) return 0;
  const first = gapInches[row + 1]!;
  const inner = gapInches[row + 2]!;
  const third = gapInches[row + 3]!;
  // NaN fails every comparison that must hold.
  if (within(first, TRUCK) && within(third, TRUCK) && within(inner, INNER)) {
    if (!(Math.abs(first - third) <= TRUCK_DIFFERENCE)) return 0;
    if (couplingIsPlain(gapInches, row + 4, rows, inner)) return 4;
    return within(inner, UNIT) ? plainArticulated(gapInches, row, rows) : 0;
  }
  if (within(first, SHORT_ENGINE_AXLE)) {
    const engine = within(third, SHORT_ENGINE_AXLE) && within(inner, SHORT_ENGINE_INNER);
    return engine && engineCouplingIsPlain(gapInches, row + 4, rows) ? -4 : 0;
  }
  if (row + 6 > rows || !within(first, ENGINE_AXLE) || !within(inner, ENGINE_AXLE) || !within(third, ENGINE_INNER)) return 0;
  if (!within(gapInches[row + 4]!, ENGINE_AXLE) || !within(gapInches[row + 5]!, ENGINE_AXLE)) return 0;
  return engineCouplingIsPlain(gapInches, row + 6, rows) ? -6 : 0;
}

/** Three or more trucks in a row with nearly the same long gap between them, then a short coupling. */
function plainArticulated(gapInches: Float32Array, row: number, rows: number): number {
  let shortest = gapInches[row + 2]!;
  let longest = shortest;
  for (let next = row + 4; next + 1 < rows; next += 2) {
    const gap = gapInches[next]!;
    if (within(gap, UNIT_COUPLING)) {
      return shortest > LONG_COUPLING_RATIO * gap && truckFollows(gapInches, next, rows) ? next - row : 0;
    }
    shortest = Math.min(shortest, gap);
    longest = Math.max(longest, gap);
    if (!within(gap, UNIT) || longest > shortest * UNIT_RATIO || !within(gapInches[next + 1]!, TRUCK)) return 0;
    if (next + 2 === rows) return rows - row;
  }
  return 0;
}

function couplingIsPlain(gapInches: Float32Array, row: number, rows: number, innerInches: number): boolean {
  if (row === rows) return true;
  const coupling = gapInches[row]!;
  if (!(coupling >= COUPLING.low && coupling <= LONG_COUPLING_HIGH)) return false;
  if (coupling > COUPLING.high && !(innerInches > LONG_COUPLING_RATIO * coupling)) return false;
  return truckFollows(gapInches, row, rows);
}

function engineCouplingIsPlain(gapInches: Float32Array, row: number, rows: number): boolean {
  return row === rows || (within(gapInches[row]!, ENGINE_COUPLING) && truckFollows(gapInches, row, rows));
}

function truckFollows(gapInches: Float32Array, row: number, rows: number): boolean {
  if (row + 1 >= rows) return false;
  if (within(gapInches[row + 1]!, NEXT_TRUCK)) return true;
  return row + 3 < rows && within(gapInches[row + 1]!, SHORT_ENGINE_AXLE) && within(gapInches[row + 3]!, SHORT_ENGINE_AXLE);
}

function within(gap: number, range: Range): boolean {
  return gap >= range.low && gap <= range.high;
}

/**
 * First row after `row` from which on the pattern is plain again: behind the first of two plain vehicles in a row. That
 * first one is left to the chain, since where couplings are as short as trucks an axle missed just before can pass for it.
 * `rows` when there is none.
 */
export function plainAgain(gapInches: Float32Array, row: number, rows: number): number {
  for (let at = row + 2; at < rows; at++) {
    if (!couplingBefore(gapInches, at, rows)) continue;
    const context = within(gapInches[at]!, COUPLING) ? CONTEXT : LONG_CONTEXT;
    let next = at;
    let resumed = rows;
    for (let plain = 0; plain <= context; plain++) {
      const axles = Math.abs(plainVehicle(gapInches, next, rows));
      if (axles === 0) {
        resumed = rows;
        break;
      }
      next += axles;
      if (plain === context - 1) resumed = next;
    }
    if (resumed < rows) return resumed;
  }
  return rows;
}

/** Whether the gap in front of `row` can be a coupling: short, or far shorter than the inner gap of the car behind it. */
function couplingBefore(gapInches: Float32Array, row: number, rows: number): boolean {
  const coupling = gapInches[row]!;
  if (within(coupling, COUPLING)) return true;
  return (
    coupling > COUPLING.high && coupling <= LONG_COUPLING_HIGH && row + 2 < rows && gapInches[row + 2]! > LONG_COUPLING_RATIO * coupling
  );
}
