import type { Direction } from "../line/railroad.ts";
import type { ByRail, Pass, PassFlag } from "./pass.ts";
import type { Vehicle } from "./vehicle.ts";

/** Columns of one rail in a pass record; null = not measured. */
export interface RailRecord {
  bearing: (number | null)[];
  /** null when the site sends no wheel readings. */
  wheel: (number | null)[] | null;
}

/**
 * A pass as it is published (topic `passes`): what was assembled, in °F above ambient, inches and mph whatever the
 * site sends, so a reader needs no line file.
 */
export interface PassRecord {
  id: string;
  version: 1;
  /** Event time: the end of the pass. */
  time: string;
  site: string;
  track: string;
  pass: string;
  direction: Direction;
  /** The site's word on direction never arrived, so the direction of the pass before it stands in. */
  directionDoubted: boolean;
  begun: string;
  ended: string;
  ambient: number | null;
  train: string | null;
  axles: number;
  /** What the site counted, null when its end never came. */
  axlesSaid: number | null;
  /** Share of the axles that arrived, of those counted or seen, whichever is more. */
  completeness: number;
  flags: PassFlag[];
  /** With `clock-doubted`: by how much the site's clock was ahead of the times given here; negative: behind. */
  clockAheadMs?: number | undefined;
  /** In order; each one's rows are `firstRow` and the `axles - 1` after it. */
  vehicles: Vehicle[];
  ms: (number | null)[];
  gap: (number | null)[];
  speed: (number | null)[];
  left: RailRecord;
  right: RailRecord;
  /** [row, tag] by rising row. */
  tags: [number, string][];
}

/** Steps per unit of the grid on which every value lies. */
export const GRID = 100;

/** All of a record before the vehicles. */
export type PassHead = Omit<PassRecord, "vehicles" | "ms" | "gap" | "speed" | "left" | "right" | "tags">;

/** The outbound record of a pass. */
export function recordOfPass(pass: Pass): PassRecord {
  return {
    ...headOfPass(pass),
    vehicles: pass.vehicles.map((vehicle) => ({ ...vehicle, trucks: [...vehicle.trucks] })),
    ms: Array.from(pass.ms, (value) => (Number.isNaN(value) ? null : value)),
    gap: gridded(pass.gapInches),
    speed: gridded(pass.speedMph),
    left: { bearing: gridded(pass.bearingRiseF[0]), wheel: pass.wheelRiseF === null ? null : gridded(pass.wheelRiseF[0]) },
    right: { bearing: gridded(pass.bearingRiseF[1]), wheel: pass.wheelRiseF === null ? null : gridded(pass.wheelRiseF[1]) },
    tags: tagsOfPass(pass),
  };
}

/** What a record begins with, its fields in the record's order. */
export function headOfPass(pass: Pass): PassHead {
  let arrived = 0;
  for (let row = 0; row < pass.axles; row++) if (!Number.isNaN(pass.ms[row]!)) arrived++;
  const expected = Math.max(pass.axles, pass.axlesSaid ?? 0);
  return {
    id: pass.id,
    version: 1,
    time: new Date(pass.endedMs).toISOString(),
    site: pass.site,
    track: pass.track,
    pass: pass.pass,
    direction: pass.direction,
    directionDoubted: pass.flags.includes("no-begin"),
    begun: new Date(pass.begunMs).toISOString(),
    ended: new Date(pass.endedMs).toISOString(),
    ambient: Number.isNaN(pass.ambientF) ? null : pass.ambientF,
    train: pass.train,
    axles: pass.axles,
    axlesSaid: pass.axlesSaid,
    completeness: expected === 0 ? 1 : Math.round((arrived / expected) * 1e4) / 1e4,
    flags: [...pass.flags],
    ...(pass.clockAheadMs === undefined ? {} : { clockAheadMs: pass.clockAheadMs }),
  };
}

export function tagsOfPass({ tags }: Pass): [number, string][] {
  return [...tags].sort((a, b) => a[0] - b[0]);
}

/** The pass of an outbound record: exactly the one it was made from. */
export function passOfRecord(record: PassRecord): Pass {
  const vehicleOfAxle = new Int16Array(record.axles).fill(-1);
  for (const [index, vehicle] of record.vehicles.entries()) {
    vehicleOfAxle.fill(index, vehicle.firstRow, vehicle.firstRow + vehicle.axles);
  }
  const wheels: ByRail<(number | null)[] | null> = [record.left.wheel, record.right.wheel];
  return {
    id: record.id,
    site: record.site,
    track: record.track,
    pass: record.pass,
    direction: record.direction,
    begunMs: Date.parse(record.begun),
    endedMs: Date.parse(record.ended),
    ambientF: record.ambient ?? Number.NaN,
    train: record.train,
    axles: record.axles,
    axlesSaid: record.axlesSaid,
    ms: timesOf(record.ms),
    gapInches: ungridded(record.gap),
    speedMph: ungridded(record.speed),
    bearingRiseF: [ungridded(record.left.bearing), ungridded(record.right.bearing)],
    wheelRiseF: wheels[0] === null || wheels[1] === null ? null : [ungridded(wheels[0]), ungridded(wheels[1])],
    tags: new Map(record.tags),
    flags: [...record.flags],
    ...(record.clockAheadMs === undefined ? {} : { clockAheadMs: record.clockAheadMs }),
    vehicles: record.vehicles.map((vehicle) => ({ ...vehicle, trucks: [...vehicle.trucks] })),
    vehicleOfAxle,
  };
}

/** A float32 on the grid prints long (70.0999984741211); rounding it in double gives the short number and loses nothing. */
function gridded(column: Float32Array): (number | null)[] {
  return Array.from(column, (value) => (Number.isNaN(value) ? null : Math.round(value * GRID) / GRID));
}

function timesOf(column: (number | null)[]): Float64Array {
  const values = new Float64Array(column.length);
  for (let i = 0; i < values.length; i++) values[i] = column[i] ?? Number.NaN;
  return values;
}

/** In loops: `from` with a function costs ten times as much, and a re-fold does it for every reading. */
function ungridded(column: (number | null)[]): Float32Array {
  const values = new Float32Array(column.length);
  for (let i = 0; i < values.length; i++) values[i] = column[i] ?? Number.NaN;
  return values;
}
