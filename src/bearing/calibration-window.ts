import { type Bias, UNKNOWN_BIAS_SD_F } from "./biases.ts";
import { type Solved, solvePositive } from "./cholesky.ts";

/** One comparison: mean of the `plus` scanners minus mean of the `minus` scanners, with what else may explain it. */
export interface Observation {
  plus: number[];
  minus: number[];
  valueF: number;
  sdF: number;
  /** By COVARIATES; null where none applies. */
  covariates: number[] | null;
}

/** What makes a whole train hotter from one site to the next besides bias. Learned afresh each hour about a prior (assumptions). */
interface Covariate {
  /** From the hours since the train was first seen (at the earlier site) and the gain of speed, mph. */
  of(hoursSinceFirst: number, speedGainMph: number): number;
  meanF: number;
  sdF: number;
}

/** A train first seen so short a time ago may come cold out of a yard or warm from another corridor. */
export const JUST_STARTED_HOURS = 0.2;

export const COVARIATES: readonly Covariate[] = [
  { of: (hours) => (hours < JUST_STARTED_HOURS ? 1 : 0), meanF: 8, sdF: 8 },
  { of: (hours) => (hours >= JUST_STARTED_HOURS && hours < 0.75 ? 1 : 0), meanF: 3, sdF: 4 },
  { of: (hours) => (hours >= 0.75 && hours < 2 ? 1 : 0), meanF: 0.5, sdF: 2 },
  { of: (_, speedGainMph) => (Number.isFinite(speedGainMph) ? speedGainMph / 10 : 0), meanF: 2, sdF: 2 },
];

/** Rounds of re-weighting; a comparison, or a bias, this many sd off what was expected counts half (Student-like, assumption). */
const ROUNDS = 4;
const HALF_WEIGHT_SDS = 2.5;
const HALF_PRIOR_SDS = 1.5;
/**
 * Comparisons leave the mean of all scanners open, and hour upon hour it would stray: most scanners are right, so the mean of those
 * that are not far off is taken for zero, give or take this, °F (assumption).
 */
const ANCHOR_SD_F = 0.5;
/** No bias is known better than this from comparisons alone, °F. */
const SD_FLOOR_F = 0.4;

/**
 * Fits all scanners of one hour together, by weighted least squares about their priors. `pairs`: for each scanner the one on the
 * track's other rail, or itself. Same length and order as `prior`.
 */
export function fitWindow(prior: readonly Bias[], pairs: readonly number[], observations: readonly Observation[]): Bias[] {
  const scanners = prior.length;
  const size = scanners + COVARIATES.length;
  const weights = new Float64Array(observations.length).fill(1);
  const trust = new Float64Array(scanners).fill(1);
  const anchor = new Float64Array(scanners);
  for (let i = 0; i < scanners; i++) anchor[i] = half(prior[i]!.biasF / UNKNOWN_BIAS_SD_F, HALF_PRIOR_SDS);
  const terms = observations.map((observation) => termsOf(observation, scanners));
  let solved = solve(prior, trust, anchor, observations, terms, weights, size);
  for (let round = 1; round < ROUNDS; round++) {
    for (let i = 0; i < observations.length; i++) {
      weights[i] = half(residual(observations[i]!, terms[i]!, solved.x) / observations[i]!.sdF, HALF_WEIGHT_SDS);
    }
    // A scanner that has gone sick is far from what was known of it: its past then holds it back less.
    for (let i = 0; i < scanners; i++) trust[i] = half((solved.x[i]! - prior[i]!.biasF) / prior[i]!.sdF, HALF_PRIOR_SDS);
    for (let i = 0; i < scanners; i++) anchor[i] = half(solved.x[i]! / UNKNOWN_BIAS_SD_F, HALF_PRIOR_SDS);
    solved = solve(prior, trust, anchor, observations, terms, weights, size);
  }
  return prior.map((_, i) => ({ biasF: solved.x[i]!, sdF: Math.max(SD_FLOOR_F, sdOf(solved, i, pairs[i]!)) }));
}

function half(sds: number, at: number): number {
  return 1 / (1 + (sds / at) ** 2);
}

/**
 * Two scanners of a track share what is unknown of the site. Their records do not say so, and two independent ones would seem to
 * know their mean twice as well as they do: so each is given at least the variance that keeps the mean as uncertain as it is.
 */
function sdOf(solved: Solved, scanner: number, other: number): number {
  const own = solved.varianceOf(scanner);
  if (other === scanner) return Math.sqrt(own);
  const mean = solved.varianceOfMean(scanner, other);
  return Math.sqrt(Math.max(own, 2 * mean));
}

function solve(
  prior: readonly Bias[],
  trust: Float64Array,
  anchor: Float64Array,
  observations: readonly Observation[],
  terms: readonly Terms[],
  weights: Float64Array,
  size: number,
): Solved {
  const precision = new Float64Array(size * size);
  const target = new Float64Array(size);
  const pin = (at: number, meanF: number, sdF: number): void => {
    precision[at * size + at] = 1 / (sdF * sdF);
    target[at] = meanF / (sdF * sdF);
  };
  prior.forEach((bias, i) => {
    pin(i, bias.biasF, bias.sdF / Math.sqrt(trust[i]!));
  });
  COVARIATES.forEach((covariate, c) => {
    pin(prior.length + c, covariate.meanF, covariate.sdF);
  });
  anchorMean(anchor, precision, size);
  for (let i = 0; i < observations.length; i++) {
    const observation = observations[i]!;
    const weight = weights[i]! / (observation.sdF * observation.sdF);
    const { places, factors } = terms[i]!;
    for (let k = 0; k < places.length; k++) {
      const row = places[k]!;
      const a = factors[k]!;
      target[row] = target[row]! + weight * a * observation.valueF;
      for (let l = 0; l < places.length; l++) {
        const cell = row * size + places[l]!;
        precision[cell] = precision[cell]! + weight * a * factors[l]!;
      }
    }
  }
  return solvePositive(precision, target, size);
}

/** Adds "the weighted mean of all biases is zero" to the precision matrix. */
function anchorMean(anchor: Float64Array, precision: Float64Array, size: number): void {
  let sum = 0;
  for (let i = 0; i < anchor.length; i++) sum += anchor[i]!;
  const weight = 1 / (ANCHOR_SD_F * ANCHOR_SD_F * sum * sum);
  for (let i = 0; i < anchor.length; i++) {
    for (let j = 0; j < anchor.length; j++) precision[i * size + j] = precision[i * size + j]! + weight * anchor[i]! * anchor[j]!;
  }
}

/** What an observation is made of: unknowns by their place, each with its factor. */
interface Terms {
  places: number[];
  factors: number[];
}

function termsOf(observation: Observation, scanners: number): Terms {
  const terms: Terms = { places: [], factors: [] };
  const add = (place: number, factor: number): void => {
    terms.places.push(place);
    terms.factors.push(factor);
  };
  for (const index of observation.plus) add(index, 1 / observation.plus.length);
  for (const index of observation.minus) add(index, -1 / observation.minus.length);
  observation.covariates?.forEach((value, c) => {
    if (value !== 0) add(scanners + c, value);
  });
  return terms;
}

function residual(observation: Observation, { places, factors }: Terms, x: Float64Array): number {
  let expected = 0;
  for (let k = 0; k < places.length; k++) expected += factors[k]! * x[places[k]!]!;
  return observation.valueF - expected;
}
