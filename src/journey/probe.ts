import { TOLERANCE_INCHES } from "./spacing-score.ts";

/** Stretches of the pass looked for in the roster, and how many spacings each has: about three cars. */
const PROBES = 8;
const PROBE_GAPS = 11;
/** Two sites' scales may differ by this share while nothing better is known. */
const SCALE_SHARE = 0.03;
/** A stretch found in more places than this says nothing of where it belongs: cars all alike. */
const TELLING_PLACES = 3;

/** On which diagonals (row minus position) stretches of a pass were found again. */
export interface Probing {
  tried: number;
  found: number;
  /** Hull of the diagonals of the telling ones; low > high when there is none. */
  low: number;
  high: number;
}

/**
 * Looks for a few stretches of rows [fromRow, toRow) among positions [from, to). Cheap (some microseconds), so that the
 * lattice is laid only where there is something to align, and with a band that holds it.
 */
export function probe(reference: Float32Array, from: number, to: number, gaps: Float32Array, fromRow: number, toRow: number): Probing {
  const result: Probing = { tried: 0, found: 0, low: Number.MAX_SAFE_INTEGER, high: Number.MIN_SAFE_INTEGER };
  const room = toRow - fromRow - PROBE_GAPS - 1;
  if (room < 0) return result;
  const probes = Math.min(PROBES, 1 + Math.floor(room / PROBE_GAPS));
  for (let k = 0; k < probes; k++) {
    const row = fromRow + 1 + (probes === 1 ? 0 : Math.floor((room * k) / (probes - 1)));
    let places = 0;
    let low = Number.MAX_SAFE_INTEGER;
    let high = Number.MIN_SAFE_INTEGER;
    for (let position = from + 1; position + PROBE_GAPS <= to; position++) {
      if (!found(reference, position, gaps, row)) continue;
      places++;
      const diagonal = row - position;
      if (diagonal < low) low = diagonal;
      if (diagonal > high) high = diagonal;
    }
    result.tried++;
    if (places === 0) continue;
    result.found++;
    if (places > TELLING_PLACES) continue;
    result.low = Math.min(result.low, low);
    result.high = Math.max(result.high, high);
  }
  return result;
}

function found(reference: Float32Array, position: number, gaps: Float32Array, row: number): boolean {
  for (let k = 0; k < PROBE_GAPS; k++) {
    const known = reference[position + k]!;
    const difference = gaps[row + k]! - known;
    const tolerance = TOLERANCE_INCHES + SCALE_SHARE * known;
    if (difference > tolerance || difference < -tolerance) return false;
  }
  return true;
}
