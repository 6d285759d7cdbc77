import type { Site, Units } from "../line/railroad.ts";

/**
 * The edge: what a site sends in its own units becomes °F above ambient, inches and mph, once, here. Every value lands on
 * a grid of 0.01 and is held as float32, so the same physical value declared in any unit ends as the same number.
 */
export interface Edge {
  units: Units;
  /** Readings need the pass's ambient: they are absolute. */
  absolute: boolean;
  /** °F a unit of the site's temperature difference. */
  degreesF: number;
  inchesPerGap: number;
  mphPerSpeed: number;
}

/** Exact by definition: 1 in = 25.4 mm (international inch, 1959), 1 mi = 1.609344 km. */
const MM_PER_INCH = 25.4;
const KM_PER_MILE = 1.609344;
const FREEZING_F = 32;
const F_PER_C = 1.8;

const INCHES: Record<Units["gap"], number> = { in: 1, ft: 12, mm: 1 / MM_PER_INCH, cm: 10 / MM_PER_INCH };

/** Nearest value on the grid of 0.01; never -0, which JSON would not bring back. */
export function onGrid(x: number): number {
  return Math.round(x * 100) / 100 + 0;
}

export function edgeOf(site: Pick<Site, "units">): Edge {
  const { units } = site;
  return {
    units,
    absolute: units.reading === "absolute",
    degreesF: units.temperature === "C" ? F_PER_C : 1,
    inchesPerGap: INCHES[units.gap],
    mphPerSpeed: units.speed === "km/h" ? 1 / KM_PER_MILE : 1,
  };
}

/** A temperature as it is, °F: an ambient, which is never a difference. Null or absent is NaN. */
export function ambientF(edge: Edge, ambient: number | null | undefined): number {
  if (ambient === null || ambient === undefined) return Number.NaN;
  return onGrid(edge.units.temperature === "C" ? ambient * F_PER_C + FREEZING_F : ambient);
}

/**
 * A reading as °F above ambient. `passAmbientF` is that of the pass, in °F (see `ambientF`); absolute readings of a pass
 * without one are NaN. A difference converts without the 32.
 */
export function riseF(edge: Edge, reading: number | null, passAmbientF: number): number {
  if (reading === null) return Number.NaN;
  return onGrid(reading * edge.degreesF + offsetF(edge, passAmbientF));
}

export function gapInches(edge: Edge, gap: number | null): number {
  return gap === null ? Number.NaN : onGrid(gap * edge.inchesPerGap);
}

export function speedMph(edge: Edge, speed: number | null): number {
  return speed === null ? Number.NaN : onGrid(speed * edge.mphPerSpeed);
}

/** The first `count` readings of a column into `target` from row `at` on: °F above ambient; NaN where not measured stays NaN. */
export function riseColumn(edge: Edge, source: Float64Array, count: number, passAmbientF: number, target: Float32Array, at: number): void {
  column(source, count, edge.degreesF, offsetF(edge, passAmbientF), target, at);
}

/** Distances, the same way: inches. */
export function gapColumn(edge: Edge, source: Float64Array, count: number, target: Float32Array, at: number): void {
  column(source, count, edge.inchesPerGap, 0, target, at);
}

/** Speeds, the same way: mph. */
export function speedColumn(edge: Edge, source: Float64Array, count: number, target: Float32Array, at: number): void {
  column(source, count, edge.mphPerSpeed, 0, target, at);
}

/** What is added to a reading in °F to have it above ambient. */
function offsetF(edge: Edge, passAmbientF: number): number {
  if (!edge.absolute) return 0;
  return (edge.units.temperature === "C" ? FREEZING_F : 0) - passAmbientF;
}

function column(source: Float64Array, count: number, factor: number, offset: number, target: Float32Array, at: number): void {
  for (let i = 0; i < count; i++) target[at + i] = onGrid(source[i]! * factor + offset);
}
