import type { AxleBlock } from "../feed/axle-block.ts";
import { type Edge, gapColumn, riseColumn, speedColumn } from "../feed/edge.ts";
import type { ByRail } from "./pass.ts";

/** Float32 columns of readings: bearings, and wheels where there are any. */
const READINGS = 2;
const READINGS_WITH_WHEEL = 4;

/** Growing columns of a pass that is still arriving, in °F above ambient, inches and mph. Rows never written hold rubbish. */
export class AxleColumns {
  ms: Float64Array;
  gapInches: Float32Array;
  speedMph: Float32Array;
  bearingRiseF: ByRail<Float32Array>;
  wheelRiseF: ByRail<Float32Array>;
  /** Some record had wheel readings. */
  hasWheel = false;

  constructor(rows: number) {
    this.ms = new Float64Array(rows);
    this.gapInches = new Float32Array(rows);
    this.speedMph = new Float32Array(rows);
    this.bearingRiseF = [new Float32Array(rows), new Float32Array(rows)];
    this.wheelRiseF = [new Float32Array(rows), new Float32Array(rows)];
  }

  get room(): number {
    return this.ms.length;
  }

  grow(rows: number): void {
    this.ms = widened(this.ms, new Float64Array(rows));
    this.gapInches = widened(this.gapInches, new Float32Array(rows));
    this.speedMph = widened(this.speedMph, new Float32Array(rows));
    for (const rail of [0, 1] as const) {
      this.bearingRiseF[rail] = widened(this.bearingRiseF[rail], new Float32Array(rows));
      this.wheelRiseF[rail] = widened(this.wheelRiseF[rail], new Float32Array(rows).fill(Number.NaN));
    }
  }

  /** Converts a block's columns into rows from `at` on. */
  write(edge: Edge, ambientF: number, block: AxleBlock, at: number): void {
    const { count } = block;
    const { ms } = this;
    // Never -0, which JSON would not bring back.
    for (let i = 0; i < count; i++) ms[at + i] = block.ms[i]! + 0;
    gapColumn(edge, block.gap, count, this.gapInches, at);
    if (block.hasSpeed) speedColumn(edge, block.speed, count, this.speedMph, at);
    else this.speedMph.fill(Number.NaN, at, at + count);
    riseColumn(edge, block.bearing[0], count, ambientF, this.bearingRiseF[0], at);
    riseColumn(edge, block.bearing[1], count, ambientF, this.bearingRiseF[1], at);
    if (block.hasWheel[0] || block.hasWheel[1] || this.hasWheel) this.#wheel(edge, ambientF, block, at);
  }

  #wheel(edge: Edge, ambientF: number, block: AxleBlock, at: number): void {
    if (!this.hasWheel) {
      this.hasWheel = true;
      for (const column of this.wheelRiseF) column.fill(Number.NaN);
    }
    for (let rail = 0; rail < 2; rail++) {
      const column = this.wheelRiseF[rail as 0 | 1];
      if (block.hasWheel[rail as 0 | 1]) riseColumn(edge, block.wheel[rail as 0 | 1], block.count, ambientF, column, at);
      else column.fill(Number.NaN, at, at + block.count);
    }
  }

  /** Marks a row as never measured. */
  clear(row: number): void {
    for (const column of this.#all()) column[row] = Number.NaN;
  }

  copyRow(from: AxleColumns, source: number, row: number): void {
    if (from.hasWheel && !this.hasWheel) {
      this.hasWheel = true;
      for (const column of this.wheelRiseF) column.fill(Number.NaN);
    }
    const sources = from.#all();
    for (const [index, column] of this.#all().entries()) column[row] = sources[index]![source]!;
    if (!from.hasWheel) this.wheelRiseF[0][row] = this.wheelRiseF[1][row] = Number.NaN;
  }

  sameRow(other: AxleColumns, source: number, row: number): boolean {
    const others = other.#all();
    return this.#all().every((column, index) => {
      const wheel = index >= 5;
      if (wheel && !this.hasWheel && !other.hasWheel) return true;
      if (wheel && this.hasWheel !== other.hasWheel) return false;
      return Object.is(column[row], others[index]![source]);
    });
  }

  /**
   * Exact-size columns of the first `rows` rows. Times and readings lie in one piece of memory, spacings and speeds in
   * another: each piece is kept or let go of as a whole, and the latter goes sooner.
   */
  cut(rows: number) {
    const wide = rows * Float64Array.BYTES_PER_ELEMENT;
    const narrow = rows * Float32Array.BYTES_PER_ELEMENT;
    const kept = new ArrayBuffer(wide + narrow * (this.hasWheel ? READINGS_WITH_WHEEL : READINGS));
    const passing = new ArrayBuffer(2 * narrow);
    const ms = new Float64Array(kept, 0, rows);
    ms.set(this.ms.subarray(0, rows));
    const [left, right] = this.bearingRiseF;
    const [wheelLeft, wheelRight] = this.wheelRiseF;
    return {
      ms,
      gapInches: part(this.gapInches, passing, 0, rows),
      speedMph: part(this.speedMph, passing, narrow, rows),
      bearingRiseF: [part(left, kept, wide, rows), part(right, kept, wide + narrow, rows)] as ByRail<Float32Array>,
      wheelRiseF: this.hasWheel
        ? ([part(wheelLeft, kept, wide + 2 * narrow, rows), part(wheelRight, kept, wide + 3 * narrow, rows)] as ByRail<Float32Array>)
        : null,
    };
  }

  #all(): (Float32Array | Float64Array)[] {
    return [this.ms, this.gapInches, this.speedMph, ...this.bearingRiseF, ...this.wheelRiseF];
  }
}

function widened<T extends Float32Array | Float64Array>(from: T, to: T): T {
  to.set(from);
  return to;
}

/** The first `rows` rows of a column, at `offset` of a piece of memory. */
function part(column: Float32Array, memory: ArrayBuffer, offset: number, rows: number): Float32Array {
  const copy = new Float32Array(memory, offset, rows);
  copy.set(column.subarray(0, rows));
  return copy;
}
