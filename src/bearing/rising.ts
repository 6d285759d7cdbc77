import { followBend, takeSteps, type WayAhead } from "./bend.ts";
import { Fit, fitGain } from "./fit.ts";
import { type ModelNumbers, READINGS_MAX } from "./model-numbers.ts";
import { normalCdf } from "./normal.ts";
import { raise } from "./power.ts";
import type { Sight } from "./sight.ts";

/** Onsets tried, miles before now: fine where it matters. */
const ONSET_EDGES = [0, 4, 9, 16, 25, 38, 56, 82, 120, 180, 290] as const;
/** A cell whose evidence is this far (natural logarithm) under the best one is not refined. The gain's prior is taken for at most e^4. */
const HOPELESS = 14;
/** sqrt(2 / pi). */
const HALF_NORMAL = 0.7978845608028654;
const SHAPES_MAX = 6;
const ONSETS = ONSET_EDGES.length - 1;
export const CELLS_MAX = ONSETS * SHAPES_MAX;
/** Rises so far (natural logarithm) behind what does not rise change nothing that is told. */
const NEGLIGIBLE = 9;
/** A gain smaller than this share of its own uncertainty is no rise to speak of; the prior is read off no lower. */
const LEAST_GAIN_SDS = 0.5;
const LEAST_GAIN_F = 1;

/**
 * The hypothesis "failing": excess = base + gain * (miles since onset / miles from onset to now) ^ power, over a bank of onsets and
 * shapes; base and gain in closed form within each cell. Columns by cell, filled again for every outlook.
 */
export class Rise {
  cells = 0;
  /** Evidence of the best cell. */
  best = -Infinity;
  /** Evidence of each cell with all priors, as a natural logarithm. */
  readonly logWeight = new Float64Array(CELLS_MAX);
  /** Evidence for the same curve ending by itself: a trend that will roll over, still on its way up. */
  readonly logRollOver = new Float64Array(CELLS_MAX);
  readonly spanMiles = new Float64Array(CELLS_MAX);
  readonly power = new Float64Array(CELLS_MAX);
  readonly base = new Float64Array(CELLS_MAX);
  readonly gain = new Float64Array(CELLS_MAX);
  readonly varBase = new Float64Array(CELLS_MAX);
  readonly covariance = new Float64Array(CELLS_MAX);
  readonly varGain = new Float64Array(CELLS_MAX);
  /** Chance that it stalls on a way ahead. */
  readonly stalls = new Float64Array(CELLS_MAX);
  /** How the bearing has bent away from the cell's curve by now: level and slope, their covariance, and how the slope wanders. */
  readonly bendF = new Float64Array(CELLS_MAX);
  readonly bendSlope = new Float64Array(CELLS_MAX);
  readonly bendVar = new Float64Array(CELLS_MAX);
  readonly bendCovariance = new Float64Array(CELLS_MAX);
  readonly bendVarSlope = new Float64Array(CELLS_MAX);
  readonly bendSlopeSd = new Float64Array(CELLS_MAX);
  /** Weights of the readings in the best cell. */
  readonly used = new Float64Array(READINGS_MAX);
}

const fit = new Fit();
/** Evidence of the plainest shape, by onset. */
const worth = new Float64Array(ONSETS);
const basis = new Float64Array(READINGS_MAX);

/**
 * Fills `rise` for a bearing's readings; `limitExcessF` is where the limit lies above the side of the train, `rival` the evidence of
 * the best hypothesis that does not rise. First the plainest shape at every onset; where that is far behind, the others are spared.
 */
export function riseOf(sight: Sight, limitExcessF: number, rival: number, numbers: ModelNumbers, rise: Rise): void {
  rise.cells = 0;
  rise.best = -Infinity;
  for (let onset = 0; onset < ONSETS; onset++) {
    worth[onset] = tryCell(sight, onset, numbers.shapes[0]!, limitExcessF, numbers, rise);
  }
  if (rise.best < rival - NEGLIGIBLE) return;
  const least = rise.best - HOPELESS;
  for (let shape = 1; shape < Math.min(SHAPES_MAX, numbers.shapes.length); shape++) {
    for (let onset = 0; onset < ONSETS; onset++) {
      if (worth[onset]! > least) tryCell(sight, onset, numbers.shapes[shape]!, limitExcessF, numbers, rise);
    }
  }
}

/** Fits one onset and shape and keeps it as a cell; returns its evidence, -Infinity when the readings say nothing of it. */
function tryCell(
  sight: Sight,
  onsetIndex: number,
  shape: ModelNumbers["shapes"][number],
  limitExcessF: number,
  numbers: ModelNumbers,
  rise: Rise,
): number {
  const near = ONSET_EDGES[onsetIndex]!;
  const far = ONSET_EDGES[onsetIndex + 1]!;
  const prior = onsetPrior(sight, near, far, numbers);
  const span = (near + far) / 2;
  const onset = sight.nowMiles - span;
  if (prior <= 0 || sight.miles[sight.count - 1]! <= onset) return -Infinity;
  const [failing, ending, power] = shape;
  for (let k = 0; k < sight.count; k++) {
    const since = (sight.miles[k]! - onset) / span;
    basis[k] = since > 0 ? raise(since, power) : 0;
    fit.weight[k] = sight.monotone[k]!;
  }
  if (!fitGain(fit, sight, basis, rise.best - HOPELESS - Math.log(prior), numbers)) return -Infinity;
  const evidence = Math.log(prior) + fit.logEvidence;
  const rising = failing === 0 ? -Infinity : evidence + Math.log(failing) + gainPrior(fit, span, power, limitExcessF, numbers);
  const rolling = evidence + Math.log((ending * numbers.rollOverPerMile) / numbers.onsetPerMile) + peakPrior(fit, span, numbers);
  keep(rise, span, power, rising, rolling);
  return Math.max(rising, rolling);
}

function keep(rise: Rise, span: number, power: number, rising: number, rolling: number): void {
  const cell = rise.cells++;
  rise.spanMiles[cell] = span;
  rise.power[cell] = power;
  rise.base[cell] = fit.base;
  rise.gain[cell] = fit.gain;
  rise.varBase[cell] = fit.varBase;
  rise.covariance[cell] = fit.covariance;
  rise.varGain[cell] = fit.varGain;
  rise.logWeight[cell] = rising;
  rise.logRollOver[cell] = rolling;
  rise.bendF[cell] = 0;
  rise.bendSlope[cell] = 0;
  rise.bendVar[cell] = 0;
  rise.bendCovariance[cell] = 0;
  rise.bendVarSlope[cell] = 0;
  rise.bendSlopeSd[cell] = 0;
  if (Math.max(rising, rolling) <= rise.best) return;
  rise.best = Math.max(rising, rolling);
  rise.used.set(fit.weight);
}

/** Follows the bend of every cell with at least this share of the evidence (Rise.logWeight holds chances by then). */
export function followBends(sight: Sight, rise: Rise, leastShare: number, numbers: ModelNumbers): void {
  takeSteps(sight, numbers);
  for (let cell = 0; cell < rise.cells; cell++) {
    rise.stalls[cell] = numbers.stallChance * (1 - Math.exp(-rise.spanMiles[cell]! / numbers.youngMiles));
    if (rise.logWeight[cell]! + rise.logRollOver[cell]! >= leastShare) followBend(sight, rise, cell, numbers);
  }
}

/** Chance that the onset lies between `near` and `far` miles before now. */
function onsetPrior(sight: Sight, near: number, far: number, numbers: ModelNumbers): number {
  const run = sight.nowMiles - sight.firstMiles;
  const within = Math.max(0, Math.min(far, run) - Math.min(near, run));
  const oldest = run + numbers.onsetBeforeFirstMiles;
  const before = Math.max(0, Math.min(far, oldest) - Math.min(near, oldest)) - within;
  return numbers.onsetPerMile * (within + numbers.onsetBeforeFirstWeight * before);
}

/**
 * Logarithm of the gain's prior density where the readings put it, and of the chance that it is positive at all. Miles from onset to
 * the limit are even in their logarithm; gain = limit * (span / miles)^power turns that into a density of the gain.
 */
function gainPrior(at: Fit, span: number, power: number, limitExcessF: number, numbers: ModelNumbers): number {
  const sd = Math.sqrt(at.varGain);
  const gain = Math.max(at.gain, LEAST_GAIN_SDS * sd, LEAST_GAIN_F);
  const logMiles = Math.log(span) + Math.log(limitExcessF / gain) / power;
  const low = Math.log(numbers.milesToLimitLow);
  const high = Math.log(numbers.milesToLimitHigh);
  const beyond = Math.max(low - logMiles, logMiles - high, 0) / numbers.milesToLimitFade;
  const width = high - low + 2.5066282746310002 * numbers.milesToLimitFade;
  return -0.5 * beyond * beyond - Math.log(width * power * gain) + Math.log(normalCdf(at.gain / sd) + 1e-300);
}

/** Logarithm of the density of a gain reached `span` miles into a trend that rolls over, and still goes up. */
function peakPrior(at: Fit, span: number, numbers: ModelNumbers): number {
  const sd = Math.sqrt(at.varGain);
  const gain = Math.max(at.gain, LEAST_GAIN_SDS * sd);
  const height = numbers.rollOverPeakF * Math.sqrt(span / (span + numbers.rollOverHalfMiles));
  const density = -0.5 * (gain / height) ** 2 + Math.log(HALF_NORMAL / height);
  return density - span / numbers.rollOverUpMiles + Math.log(normalCdf(at.gain / sd) + 1e-300);
}

/**
 * Chance that the cell's bearing is at or over `excessF` at the end of a way ahead. Most rises go on by their curve; some stall, the
 * more likely the longer they have lasted. Either way the bend away from the curve goes on by its own slope, which fades.
 */
export function chanceOver(rise: Rise, cell: number, way: WayAhead, excessF: number, numbers: ModelNumbers): number {
  const goesOn = chanceOfGoingOn(rise, cell, way, excessF, numbers);
  if (way.miles === 0) return goesOn;
  return goesOn - rise.stalls[cell]! * (goesOn - chanceAt(rise, cell, 1, way, excessF, 0, numbers));
}

/** The same given that it goes on by its curve. */
export function chanceOfGoingOn(rise: Rise, cell: number, way: WayAhead, excessF: number, numbers: ModelNumbers): number {
  const full = way.miles === 0 ? 0 : raise(1 + way.miles / rise.spanMiles[cell]!, rise.power[cell]!) - 1;
  const still = numbers.futureError * rise.gain[cell]! * full;
  return chanceAt(rise, cell, 1 + numbers.futureShare * full, way, excessF, still * still, numbers);
}

/** With the gain taken `g` times: what is known of base, gain and bend, and `looseF2` besides. */
function chanceAt(rise: Rise, cell: number, g: number, way: WayAhead, excessF: number, looseF2: number, numbers: ModelNumbers): number {
  const { reach } = way;
  const level = rise.base[cell]! + rise.gain[cell]! * g + rise.bendF[cell]! + reach * rise.bendSlope[cell]!;
  const known = rise.varBase[cell]! + 2 * g * rise.covariance[cell]! + g * g * rise.varGain[cell]!;
  const slopeSd = rise.bendSlopeSd[cell]!;
  const bent =
    rise.bendVar[cell]! +
    2 * reach * rise.bendCovariance[cell]! +
    reach * reach * rise.bendVarSlope[cell]! +
    slopeSd * slopeSd * way.growth;
  const variance = Math.max(0, known) + Math.max(0, bent) + looseF2 + numbers.limitSdF * numbers.limitSdF;
  return normalCdf((level - excessF) / Math.sqrt(variance));
}
