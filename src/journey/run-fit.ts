import type { Alignment } from "./alignment.ts";
import type { KeptWarmth } from "./kept-warmth.ts";
import { isCoupledAt, TOLERANCE_INCHES } from "./spacing-score.ts";

/** Square residual noise of a spacing is not below this, inches, however smooth the run. */
const LEAST_SQUARE_INCHES = 0.3;
/** A run of cars that would begin or end inside a vehicle, nats (assumption). */
const NOT_COUPLED_NATS = 4;

/**
 * One run of a sequence that the other one lacks, and how far it could slide: cars set out of a block of cars all alike
 * leave spacings that say little of which ones went. The shorter sequence is the pass where cars were set out, the roster
 * where they were picked up; its elements [from, cut) stand on one diagonal of the longer, [cut, to] on the next.
 */
export interface Run {
  setOut: boolean;
  from: number;
  cut: number;
  to: number;
  /** Longer index = shorter index + offset; beyond the cut + offset + length. */
  offset: number;
  length: number;
}

/** What a run is held against. */
export interface Fit {
  alignment: Alignment;
  /** null: the spacings alone have the say. */
  warmth: KeptWarmth | null;
  reference: Float32Array;
  gaps: Float32Array;
}

function residual(fit: Fit, run: Run, short: number, diagonal: number): number {
  const row = run.setOut ? short : short + diagonal;
  const position = run.setOut ? short + diagonal : short;
  return fit.gaps[row]! - fit.alignment.scale * fit.reference[position]!;
}

export function fits(fit: Fit, run: Run, short: number, diagonal: number): boolean {
  return !(Math.abs(residual(fit, run, short, diagonal)) > TOLERANCE_INCHES);
}

export function spacingNats(fit: Fit, run: Run, short: number, diagonal: number): number {
  const inches = Math.min(TOLERANCE_INCHES, Math.abs(residual(fit, run, short, diagonal)));
  const square = Math.max(LEAST_SQUARE_INCHES, fit.alignment.squareInches);
  return Number.isNaN(inches) ? 0 : (inches * inches) / (2 * square);
}

export function warmthNats(fit: Fit, run: Run, short: number, diagonal: number): number {
  if (fit.warmth === null) return 0;
  return run.setOut ? fit.warmth.unlikeness(short, short + diagonal) : fit.warmth.unlikeness(short + diagonal, short);
}

/** Vehicles part and join between their coupled ends: where elements from `cut` on change over to another diagonal. */
export function partNats(fit: Fit, run: Run, cut: number, from: number, to: number): number {
  const shorter = run.setOut ? fit.gaps : fit.reference;
  const longer = run.setOut ? fit.reference : fit.gaps;
  const coupled = isCoupledAt(shorter, cut) && isCoupledAt(longer, cut + from) && isCoupledAt(longer, cut + to);
  return coupled ? 0 : NOT_COUPLED_NATS;
}
