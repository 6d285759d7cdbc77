import { AXLES_A_RECORD } from "./limits.ts";
import type { Axles, RailColumns } from "./record.ts";

/**
 * The axles of one record as columns of doubles, in the site's own units, NaN where nothing was measured. One block is
 * filled again for record after record: nothing is allocated for an axle.
 */
export class AxleBlock {
  /** Ordinal of the first axle, from 1. */
  first = 1;
  /** Axles in the block; what lies behind them in the columns is rubbish. */
  count = 0;
  hasSpeed = false;
  readonly hasWheel: [boolean, boolean] = [false, false];
  readonly ms: Float64Array = new Float64Array(AXLES_A_RECORD);
  readonly gap: Float64Array = new Float64Array(AXLES_A_RECORD);
  readonly speed: Float64Array = new Float64Array(AXLES_A_RECORD);
  /** By rail: left, right. */
  readonly bearing: [Float64Array, Float64Array] = [new Float64Array(AXLES_A_RECORD), new Float64Array(AXLES_A_RECORD)];
  readonly wheel: [Float64Array, Float64Array] = [new Float64Array(AXLES_A_RECORD), new Float64Array(AXLES_A_RECORD)];
  /** Vehicle tag of each axle; null when the record has none. */
  tag: (string | null)[] | null = null;

  /** Takes over the axles of a record that fits the contract: columns of equal length, of AXLES_A_RECORD at most. */
  fill(record: Axles): this {
    const { ms, left, right } = record;
    this.first = record.first;
    this.count = ms.length;
    for (let i = 0; i < ms.length; i++) this.ms[i] = ms[i]!;
    taken(record.gap, this.gap);
    this.hasSpeed = taken(record.speed, this.speed);
    taken(left.bearing, this.bearing[0]);
    taken(right.bearing, this.bearing[1]);
    this.hasWheel[0] = taken(left.wheel, this.wheel[0]);
    this.hasWheel[1] = taken(right.wheel, this.wheel[1]);
    this.tag = record.tag ?? null;
    return this;
  }

  /** The same axles as a record of its own, its fields in the contract's order and only those that are there. */
  record(site: string, track: string, pass: string): Axles {
    const record: Axles = {
      type: "axles",
      site,
      track,
      pass,
      first: this.first,
      ms: Array.from(this.ms.subarray(0, this.count)),
      gap: this.given(this.gap),
      ...(this.hasSpeed && { speed: this.given(this.speed) }),
      left: this.rail(0),
      right: this.rail(1),
    };
    if (this.tag !== null) record.tag = [...this.tag];
    return record;
  }

  private rail(rail: 0 | 1): RailColumns {
    const bearing = this.given(this.bearing[rail]);
    return this.hasWheel[rail] ? { bearing, wheel: this.given(this.wheel[rail]) } : { bearing };
  }

  private given(column: Float64Array): (number | null)[] {
    const values: (number | null)[] = [];
    for (let i = 0; i < this.count; i++) values.push(Number.isNaN(column[i]!) ? null : column[i]!);
    return values;
  }
}

/** Copies a column, null to NaN; false when there is none. */
function taken(column: readonly (number | null)[] | undefined, target: Float64Array): boolean {
  if (column === undefined) return false;
  for (let i = 0; i < column.length; i++) target[i] = column[i] ?? Number.NaN;
  return true;
}
