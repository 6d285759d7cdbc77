/**
 * Vehicles that need no thought: a pattern so plain that no other reading of the same spacings is likely. The scan is a
 * handful of comparisons a vehicle; everything else goes to the spacing chain. Limits are in inches, wide by 2 % for a
 * site's spacing scale; all are assumptions on top of the dimensions in spacing-model.ts.
 */

const TRUCK_LOW = 62;
const TRUCK_HIGH = 85;
const TRUCK_DIFFERENCE = 6;
const INNER_LOW = 165;
const INNER_HIGH = 790;
const COUPLING_LOW = 62;
const COUPLING_HIGH = 150;
/** A longer coupling is plain only between cars whose inner gap is far longer still. */
const LONG_COUPLING_HIGH = 330;
const LONG_COUPLING_RATIO = 1.8;
/** Any first gap of a vehicle: a truck of a car or of a locomotive. */
const NEXT_TRUCK_HIGH = 120;
const ENGINE_AXLE_LOW = 74;
const ENGINE_AXLE_HIGH = 91;
const ENGINE_INNER_LOW = 270;
const ENGINE_INNER_HIGH = 530;
const ENGINE_COUPLING_HIGH = 220;

/** Axles of the plain vehicle that begins at `row` and ends before `rows`: 4 a car, 6 a locomotive, 0 nothing plain. */
export function plainVehicle(gapInches: Float32Array, row: number, rows: number): 0 | 4 | 6 {
  if (row + 4 > rows) return 0;
  const first = gapInches[row + 1]!;
  const second = gapInches[row + 2]!;
  const third = gapInches[row + 3]!;
  // NaN fails every comparison that must hold.
  if (first >= TRUCK_LOW && first <= TRUCK_HIGH && third >= TRUCK_LOW && third <= TRUCK_HIGH) {
    if (!(Math.abs(first - third) <= TRUCK_DIFFERENCE && second >= INNER_LOW && second <= INNER_HIGH)) return 0;
    return couplingIsPlain(gapInches, row + 4, rows, second) ? 4 : 0;
  }
  if (row + 6 > rows) return 0;
  if (!(isEngineAxle(first) && isEngineAxle(second) && third >= ENGINE_INNER_LOW && third <= ENGINE_INNER_HIGH)) return 0;
  if (!(isEngineAxle(gapInches[row + 4]!) && isEngineAxle(gapInches[row + 5]!))) return 0;
  if (row + 6 === rows) return 6;
  const coupling = gapInches[row + 6]!;
  return coupling >= COUPLING_LOW && coupling <= ENGINE_COUPLING_HIGH && truckFollows(gapInches, row + 6, rows) ? 6 : 0;
}

function couplingIsPlain(gapInches: Float32Array, row: number, rows: number, innerInches: number): boolean {
  if (row === rows) return true;
  const coupling = gapInches[row]!;
  if (!(coupling >= COUPLING_LOW && coupling <= LONG_COUPLING_HIGH)) return false;
  if (coupling > COUPLING_HIGH && !(innerInches > LONG_COUPLING_RATIO * coupling)) return false;
  return truckFollows(gapInches, row, rows);
}

function truckFollows(gapInches: Float32Array, row: number, rows: number): boolean {
  if (row + 1 >= rows) return false;
  const next = gapInches[row + 1]!;
  return next >= TRUCK_LOW && next <= NEXT_TRUCK_HIGH;
}

function isEngineAxle(gap: number): boolean {
  return gap >= ENGINE_AXLE_LOW && gap <= ENGINE_AXLE_HIGH;
}

/**
 * First row after `row` from which on the pattern is plain again, and a vehicle surely begins: a plain coupling and
 * `RESUME` plain vehicles in a row; `rows` when there is none.
 */
export function plainAgain(gapInches: Float32Array, row: number, rows: number): number {
  for (let at = row + 2; at < rows; at++) {
    const coupling = gapInches[at]!;
    if (!(coupling >= COUPLING_LOW && coupling <= COUPLING_HIGH)) continue;
    let next = at;
    let plain = 0;
    while (plain < RESUME) {
      const axles = plainVehicle(gapInches, next, rows);
      if (axles === 0) break;
      next += axles;
      plain++;
    }
    if (plain === RESUME) return at;
  }
  return rows;
}

/** Plain vehicles in a row that end a doubtful stretch. */
const RESUME = 2;
