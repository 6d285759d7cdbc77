import type { Bias } from "./biases.ts";
import { solvePositive } from "./cholesky.ts";

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

export const COVARIATES: readonly Covariate[] = [
  { of: (hours) => (hours < 0.75 ? 1 : 0), meanF: 2, sdF: 4 },
  { of: (hours) => (hours >= 0.75 && hours < 2 ? 1 : 0), meanF: 0.5, sdF: 2 },
  { of: (_, speedGainMph) => (Number.isFinite(speedGainMph) ? speedGainMph / 10 : 0), meanF: 2, sdF: 2 },
];

interface Solution {
  x: Float64Array;
  variance: Float64Array;
}

/** Rounds of re-weighting; a comparison this many sd off counts half (Student-like weights, assumption). */
const ROUNDS = 3;
const HALF_WEIGHT_SDS = 2.5;
/** No bias is known better than this from comparisons alone, °F. */
const SD_FLOOR_F = 0.4;

/** Fits all scanners of one hour together, by weighted least squares about their priors. Same length and order as `prior`. */
export function fitWindow(prior: readonly Bias[], observations: readonly Observation[]): Bias[] {
  const scanners = prior.length;
  const size = scanners + COVARIATES.length;
  const weights = new Float64Array(observations.length).fill(1);
  let solution: Solution = { x: new Float64Array(size), variance: new Float64Array(size) };
  for (let round = 0; round < ROUNDS; round++) {
    solution = solve(prior, observations, weights, size);
    for (let i = 0; i < observations.length; i++) {
      const z = residual(observations[i]!, solution.x, scanners) / (observations[i]!.sdF * HALF_WEIGHT_SDS);
      weights[i] = 1 / (1 + z * z);
    }
  }
  return prior.map((_, i) => ({ biasF: solution.x[i]!, sdF: Math.max(SD_FLOOR_F, Math.sqrt(solution.variance[i]!)) }));
}

function solve(prior: readonly Bias[], observations: readonly Observation[], weights: Float64Array, size: number): Solution {
  const precision = new Float64Array(size * size);
  const target = new Float64Array(size);
  const pin = (at: number, meanF: number, sdF: number): void => {
    precision[at * size + at] = 1 / (sdF * sdF);
    target[at] = meanF / (sdF * sdF);
  };
  prior.forEach((bias, i) => {
    pin(i, bias.biasF, bias.sdF);
  });
  COVARIATES.forEach((covariate, c) => {
    pin(prior.length + c, covariate.meanF, covariate.sdF);
  });
  for (let i = 0; i < observations.length; i++) {
    const observation = observations[i]!;
    const weight = weights[i]! / (observation.sdF * observation.sdF);
    const terms = termsOf(observation, prior.length);
    for (const [row, a] of terms) {
      target[row] = target[row]! + weight * a * observation.valueF;
      for (const [column, b] of terms) precision[row * size + column] = precision[row * size + column]! + weight * a * b;
    }
  }
  return solvePositive(precision, target, size);
}

function termsOf(observation: Observation, scanners: number): [number, number][] {
  const terms: [number, number][] = [];
  for (const index of observation.plus) terms.push([index, 1 / observation.plus.length]);
  for (const index of observation.minus) terms.push([index, -1 / observation.minus.length]);
  observation.covariates?.forEach((value, c) => {
    if (value !== 0) terms.push([scanners + c, value]);
  });
  return terms;
}

function residual(observation: Observation, x: Float64Array, scanners: number): number {
  let expected = 0;
  for (const [index, factor] of termsOf(observation, scanners)) expected += factor * x[index]!;
  return observation.valueF - expected;
}
