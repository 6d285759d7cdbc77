import type { Levels } from "../bearing/levels.ts";
import type { Pass } from "../pass/pass.ts";

/** Columns of 16 bits, in this order; those of the wheels only where there are any. Rails lie side by side: left, right. */
const MS_LOW = 0;
const MS_HIGH = 1;
const VEHICLE = 2;
const RISE = 3;
const WHEEL = 5;
const COLUMNS = 5;
const COLUMNS_WITH_WHEEL = 7;

/** Stands for a reading that was not measured, and in both halves of a time for one that is not known. */
const NONE = -0x8000;
const HALF = 0x10000;
/** Readings and times lie on a grid of 0.01 (feed/edge.ts). */
const PER_UNIT = 100;
const MOST = 0x7fff;
/** Behind the columns, of each odd bearing: row * 2 + rail, rising; then the two halves of its excess as a float. */
const ODD_CELLS = 3;
/** Beside the vehicle of a row: its excess on that rail is none of a car's, so it is looked up. */
const ODD_BITS = 2;

/**
 * What looks ask of a settled leg, exactly as it was, in less than half of the memory: readings and times as whole hundredths in
 * one piece, and the excess of a bearing worked out again from its reading, which levelling made it from. Only what cannot be
 * found out so (locomotives are levelled among themselves) is kept as it is.
 */
export class PackedReadings {
  readonly rows: number;
  private readonly hasWheel: boolean;
  private readonly cells: Int16Array;
  private readonly biasF: Levels["biasF"];
  private readonly medianF: Levels["medianF"];

  private constructor(cells: Int16Array, { axles, wheelRiseF }: Pass, { biasF, medianF }: Levels) {
    this.cells = cells;
    this.rows = axles;
    this.hasWheel = wheelRiseF !== null;
    this.biasF = biasF;
    this.medianF = medianF;
  }

  /** null: something in it does not lie on the grid, or is too great for it, so it has to stay as it is. */
  static of(pass: Pass, levels: Levels): PackedReadings | null {
    const rows = pass.axles;
    const { wheelRiseF } = pass;
    const odd = oddOnes(pass, levels);
    const columns = wheelRiseF === null ? COLUMNS : COLUMNS_WITH_WHEEL;
    const cells = new Int16Array(rows * columns + odd.length * ODD_CELLS);
    if (!packTimes(pass.ms, cells, rows) || !packVehicles(pass, cells)) return null;
    for (const rail of [0, 1] as const) {
      if (!packColumn(pass.bearingRiseF[rail], cells, (RISE + rail) * rows, rows)) return null;
      if (wheelRiseF !== null && !packColumn(wheelRiseF[rail], cells, (WHEEL + rail) * rows, rows)) return null;
    }
    packOdd(odd, levels, cells, rows, rows * columns);
    return new PackedReadings(cells, pass, levels);
  }

  /** Milliseconds since the pass began. */
  ms(row: number): number {
    const low = this.cells[row]!;
    const high = this.cells[MS_HIGH * this.rows + row]!;
    return low === NONE && high === NONE ? Number.NaN : ((high & (HALF - 1)) * HALF + (low & (HALF - 1))) / PER_UNIT;
  }

  riseF(rail: 0 | 1, row: number): number {
    return reading(this.cells[(RISE + rail) * this.rows + row]!);
  }

  wheelRiseF(rail: 0 | 1, row: number): number {
    return this.hasWheel ? reading(this.cells[(WHEEL + rail) * this.rows + row]!) : Number.NaN;
  }

  excessF(rail: 0 | 1, row: number): number {
    if ((this.cells[VEHICLE * this.rows + row]! & (1 << rail)) > 0) return this.oddExcessF(row * 2 + rail);
    return carExcess(this.riseF(rail, row), this.biasF[rail], this.medianF[rail]);
  }

  private oddExcessF(key: number): number {
    const { cells } = this;
    const first = this.rows * (this.hasWheel ? COLUMNS_WITH_WHEEL : COLUMNS);
    let from = 0;
    let to = (cells.length - first) / ODD_CELLS - 1;
    while (from < to) {
      const middle = (from + to) >> 1;
      if (cells[first + middle * ODD_CELLS]! < key) from = middle + 1;
      else to = middle;
    }
    halves[0] = cells[first + from * ODD_CELLS + 1]!;
    halves[1] = cells[first + from * ODD_CELLS + 2]!;
    return float[0]!;
  }

  /** Index of the vehicle of a row, -1 where none was found. */
  vehicle(row: number): number {
    return this.cells[VEHICLE * this.rows + row]! >> ODD_BITS;
  }

  /**
   * Excess of the bearings on the other axles of a row's vehicle, to `out`; returns how many, and stops at the axle that brings it to
   * `most`. A vehicle is the rows around that have its index, and no others do. Here, for a number handed over by itself is an
   * object more for the collector.
   */
  othersOf(row: number, out: Float64Array, most: number): number {
    const vehicle = this.vehicle(row);
    if (vehicle < 0) return 0;
    let other = row;
    while (other > 0 && this.vehicle(other - 1) === vehicle) other--;
    let count = 0;
    for (; other < this.rows && this.vehicle(other) === vehicle && count < most; other++) {
      if (other === row) continue;
      const leftF = this.excessF(0, other);
      const rightF = this.excessF(1, other);
      if (!Number.isNaN(leftF)) out[count++] = leftF;
      if (!Number.isNaN(rightF)) out[count++] = rightF;
    }
    return count;
  }
}

/** As levelling works it out for a car's bearing, in the same steps: bearing/level.ts. */
function carExcess(riseF: number, biasF: number, medianF: number): number {
  return Math.fround(riseF - biasF - medianF);
}

function reading(hundredths: number): number {
  return hundredths === NONE ? Number.NaN : Math.fround(hundredths / PER_UNIT);
}

function packColumn(column: Float32Array, cells: Int16Array, at: number, rows: number): boolean {
  for (let row = 0; row < rows; row++) {
    const value = column[row]!;
    if (Number.isNaN(value)) {
      cells[at + row] = NONE;
      continue;
    }
    const hundredths = Math.round(value * PER_UNIT);
    if (hundredths > MOST || hundredths <= NONE || reading(hundredths) !== value) return false;
    cells[at + row] = hundredths;
  }
  return true;
}

function packTimes(ms: Float64Array, cells: Int16Array, rows: number): boolean {
  for (let row = 0; row < rows; row++) {
    const value = ms[row]!;
    if (Number.isNaN(value)) {
      cells[row] = cells[MS_HIGH * rows + row] = NONE;
      continue;
    }
    const hundredths = Math.round(value * PER_UNIT);
    const high = Math.floor(hundredths / HALF);
    // One whose halves would look like a time that is not known is so long that no pass has it.
    if (hundredths < 0 || high >= HALF >> 1 || hundredths / PER_UNIT !== value) return false;
    cells[MS_LOW * rows + row] = hundredths % HALF;
    cells[MS_HIGH * rows + row] = high;
  }
  return true;
}

/** Vehicles by row; false where their rows say something else than they do, so that a look could tell it apart. */
function packVehicles({ vehicles, vehicleOfAxle, axles }: Pass, cells: Int16Array): boolean {
  const from = VEHICLE * axles;
  let row = 0;
  for (let index = 0; index <= vehicles.length; index++) {
    const vehicle = vehicles[index];
    const first = vehicle === undefined ? axles : vehicle.firstRow;
    const end = vehicle === undefined ? axles : first + vehicle.axles;
    // One behind the other, none in the rows of another.
    if (first < row || end > axles) return false;
    for (; row < first; row++) {
      if (vehicleOfAxle[row] !== -1) return false;
      cells[from + row] = -1 << ODD_BITS;
    }
    for (; row < end; row++) {
      if (vehicleOfAxle[row] !== index) return false;
      cells[from + row] = index << ODD_BITS;
    }
  }
  return true;
}

/** Bearings whose excess is none of a car's: row * 2 + rail, rising. */
function oddOnes({ axles, bearingRiseF }: Pass, { biasF, medianF, excessF }: Levels): number[] {
  const odd: number[] = [];
  for (const rail of [0, 1] as const) {
    const rise = bearingRiseF[rail];
    const excess = excessF[rail];
    const bias = biasF[rail];
    const median = medianF[rail];
    for (let row = 0; row < axles; row++) {
      const value = excess[row]!;
      const car = carExcess(rise[row]!, bias, median);
      if (car !== value && !(Number.isNaN(car) && Number.isNaN(value))) odd.push(row * 2 + rail);
    }
  }
  return odd.sort((a, b) => a - b);
}

/** A float and its two halves, in the same memory. */
const float = new Float32Array(1);
const halves = new Int16Array(float.buffer);

function packOdd(odd: readonly number[], { excessF }: Levels, cells: Int16Array, rows: number, from: number): void {
  for (const [k, key] of odd.entries()) {
    const rail = (key & 1) as 0 | 1;
    const row = key >> 1;
    cells[VEHICLE * rows + row]! |= 1 << rail;
    float[0] = excessF[rail][row]!;
    cells[from + k * ODD_CELLS] = key;
    cells[from + k * ODD_CELLS + 1] = halves[0]!;
    cells[from + k * ODD_CELLS + 2] = halves[1]!;
  }
}
