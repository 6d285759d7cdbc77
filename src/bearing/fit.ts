import { type ModelNumbers, READINGS_MAX } from "./model-numbers.ts";
import { inlierShare, readingDensity, type Sight } from "./sight.ts";

/** Steps of re-weighting; the weights have settled by then on all tested curves. */
const STEPS = 3;
/** A level that no reading supports has this precision, 1/°F²: give or take 100 °F. */
const LEAST_PRECISION = 1e-4;
/** A weight that changes by less has settled. */
const SETTLED = 0.1;
const LEAST_DETERMINANT = 1e-12;
const ROOT_TWO_PI = Math.sqrt(2 * Math.PI);
const TWO_PI = 2 * Math.PI;

/** excess = base + gain * basis: the most likely pair, its covariance, and the logarithm of the evidence. Filled again by every fit. */
export class Fit {
  base = 0;
  gain = 0;
  varBase = 0;
  covariance = 0;
  varGain = 0;
  /** Logarithm of the likelihood with base integrated over its prior and gain over a flat one (Laplace). */
  logEvidence = 0;
  /** Some reading's weight changed in the last step. */
  moved = false;
  readonly weight = new Float64Array(READINGS_MAX);
}

/**
 * Fits a base (prior: zero, sd sight.levelSdF) and a gain (flat prior; the caller multiplies its own in) under one-sided heavy-tailed
 * noise, by expectation-maximisation over "was this reading an ordinary one". Starts from `fit.weight`. Gives up on a fit whose
 * evidence stays under `hopeless`. False when no reading says anything about the gain, or when hopeless.
 */
export function fitGain(fit: Fit, sight: Sight, basis: Float64Array, hopeless: number, numbers: ModelNumbers): boolean {
  const { count, excessF, risingPrecision, levelSdF } = sight;
  const weight = fit.weight;
  const priorPrecision = 1 / (levelSdF * levelSdF);
  for (let step = 1; ; step++) {
    let s0 = priorPrecision;
    let s1 = 0;
    let s2 = 0;
    let t0 = 0;
    let t1 = 0;
    for (let k = 0; k < count; k++) {
      const g = basis[k]!;
      const precision = weight[k]! * risingPrecision[k]! * risingPrecision[k]!;
      s0 += precision;
      s1 += precision * g;
      s2 += precision * g * g;
      t0 += precision * excessF[k]!;
      t1 += precision * g * excessF[k]!;
    }
    const determinant = s0 * s2 - s1 * s1;
    if (!(determinant > LEAST_DETERMINANT)) return false;
    fit.base = (s2 * t0 - s1 * t1) / determinant;
    fit.gain = (s0 * t1 - s1 * t0) / determinant;
    fit.varBase = s2 / determinant;
    fit.covariance = -s1 / determinant;
    fit.varGain = s0 / determinant;
    const density = weigh(fit, sight, basis, numbers);
    const z = fit.base / levelSdF;
    // Density of the base under its prior, and the volume of the bell around the best pair.
    fit.logEvidence = Math.log((density * ROOT_TWO_PI) / (levelSdF * Math.sqrt(determinant))) - 0.5 * z * z;
    if (step === STEPS || !fit.moved) return true;
    if (fit.logEvidence < hopeless) return false;
  }
}

/** Weighs each reading as ordinary or not under the present pair; returns the product of their densities. */
function weigh(fit: Fit, sight: Sight, basis: Float64Array, numbers: ModelNumbers): number {
  const { count, excessF, risingPrecision } = sight;
  const share = inlierShare;
  const { base, gain } = fit;
  let product = 1;
  let moved = false;
  for (let k = 0; k < count; k++) {
    product *= readingDensity(k, excessF[k]! - base - gain * basis[k]!, risingPrecision[k]!, numbers);
    const weight = share[0]!;
    if (Math.abs(weight - fit.weight[k]!) > SETTLED) moved = true;
    fit.weight[k] = weight;
  }
  fit.moved = moved;
  return product;
}

/** Precision of a reading whose expectation is itself only known give or take `sdF`. */
function blunted(precision: number, sdF: number): number {
  const ratio = sdF * precision;
  return precision / Math.sqrt(1 + ratio * ratio);
}

/**
 * Fits one level alone (the gain of a basis without base) with a normal prior on it or, with `priorSdF` infinite, a flat one.
 * Result in fit.gain, fit.varGain, fit.logEvidence.
 */
export function fitLevel(
  fit: Fit,
  sight: Sight,
  basis: Float64Array | null,
  priorSdF: number,
  startF: number,
  numbers: ModelNumbers,
): void {
  const { count, excessF, precision } = sight;
  const priorPrecision = 1 / (priorSdF * priorSdF);
  let precisionSum = priorPrecision;
  let density = 1;
  fit.gain = startF;
  for (let step = 0; step <= STEPS; step++) {
    density = 1;
    precisionSum = priorPrecision;
    let sum = 0;
    for (let k = 0; k < count; k++) {
      const g = basis === null ? 1 : basis[k]!;
      const sharp = basis === null ? precision[k]! : blunted(precision[k]!, numbers.warmthError * fit.gain * g);
      density *= readingDensity(k, excessF[k]! - fit.gain * g, sharp, numbers);
      const weight = inlierShare[0]!;
      const share = weight * sharp * sharp;
      fit.weight[k] = weight;
      precisionSum += share * g * g;
      sum += share * g * excessF[k]!;
    }
    // With every reading an outlier the level is as good as unknown.
    precisionSum = Math.max(precisionSum, LEAST_PRECISION);
    if (step < STEPS) fit.gain = sum / precisionSum;
  }
  fit.base = 0;
  fit.varBase = 0;
  fit.covariance = 0;
  fit.varGain = 1 / precisionSum;
  const prior = priorPrecision === 0 ? 1 : Math.exp(-0.5 * fit.gain * fit.gain * priorPrecision) / (priorSdF * Math.sqrt(TWO_PI));
  fit.logEvidence = Math.log(density * prior * Math.sqrt(TWO_PI / precisionSum));
}
