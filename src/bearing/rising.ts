import { followBend, takeSteps, type WayAhead } from "./bend.ts";
import { type CurveBank, curveBankOf, ONSETS, type Onset, SHAPES_MAX, type Shape } from "./curve-bank.ts";
import { Fit, fitGain } from "./fit.ts";
import { type ModelNumbers, READINGS_MAX } from "./model-numbers.ts";
import { normalCdf } from "./normal.ts";
import { raise } from "./power.ts";
import type { Sight } from "./sight.ts";

/** A cell whose evidence is this far (natural logarithm) under the best one is not refined. The gain's prior is taken for at most e^4. */
const HOPELESS = 14;
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
/** By onset: evidence of the plainest shape, -Infinity where the onset is out of the question; and the logarithm of its prior. */
const worth = new Float64Array(ONSETS);
const logPrior = new Float64Array(ONSETS);
/** Miles since each onset at each reading, as a share of those from the onset to now; 0 before it. By onset, then by reading. */
const sinceOnset = new Float64Array(ONSETS * READINGS_MAX);
const basis = new Float64Array(READINGS_MAX);

/**
 * Fills `rise` for a bearing's readings; `limitExcessF` is where the limit lies above the side of the train, `rival` the evidence of
 * the best hypothesis that does not rise. First the plainest shape at every onset; where that is far behind, the others are spared.
 */
export function riseOf(sight: Sight, limitExcessF: number, rival: number, numbers: ModelNumbers, rise: Rise): void {
  const bank = curveBankOf(numbers);
  rise.cells = 0;
  rise.best = -Infinity;
  for (let onset = 0; onset < ONSETS; onset++) {
    const isPossible = beginAt(sight, bank.onsets[onset]!, onset, numbers);
    worth[onset] = isPossible ? tryCell(sight, bank, onset, bank.shapes[0]!, limitExcessF, numbers, rise) : -Infinity;
  }
  if (rise.best < rival - NEGLIGIBLE) return;
  const least = rise.best - HOPELESS;
  for (let shape = 1; shape < bank.shapes.length; shape++) {
    for (let onset = 0; onset < ONSETS; onset++) {
      if (worth[onset]! > least) tryCell(sight, bank, onset, bank.shapes[shape]!, limitExcessF, numbers, rise);
    }
  }
}

/** What all shapes from one onset share. False when nothing can have begun there, or no reading was taken since. */
function beginAt(sight: Sight, { near, far, span }: Onset, onsetIndex: number, numbers: ModelNumbers): boolean {
  const prior = onsetPrior(sight, near, far, numbers);
  const onset = sight.nowMiles - span;
  if (prior <= 0 || sight.miles[sight.count - 1]! <= onset) return false;
  logPrior[onsetIndex] = Math.log(prior);
  const at = onsetIndex * READINGS_MAX;
  for (let k = 0; k < sight.count; k++) {
    const since = (sight.miles[k]! - onset) / span;
    sinceOnset[at + k] = since > 0 ? since : 0;
  }
  return true;
}

/** Fits one onset and shape and keeps it as a cell; returns its evidence, -Infinity when the readings say nothing of it. */
function tryCell(
  sight: Sight,
  bank: CurveBank,
  onsetIndex: number,
  shape: Shape,
  limitExcessF: number,
  numbers: ModelNumbers,
  rise: Rise,
): number {
  const onset = bank.onsets[onsetIndex]!;
  const at = onsetIndex * READINGS_MAX;
  for (let k = 0; k < sight.count; k++) {
    basis[k] = raise(sinceOnset[at + k]!, shape.power);
    fit.weight[k] = sight.monotone[k]!;
  }
  const prior = logPrior[onsetIndex]!;
  if (!fitGain(fit, sight, basis, rise.best - HOPELESS - prior, numbers)) return -Infinity;
  const evidence = prior + fit.logEvidence;
  const sd = Math.sqrt(fit.varGain);
  const positive = Math.log(normalCdf(fit.gain / sd) + 1e-300);
  const { logFailing } = shape;
  const rising =
    logFailing === -Infinity ? -Infinity : evidence + logFailing + (gainPrior(sd, bank, onset, shape, limitExcessF, numbers) + positive);
  const rolling = evidence + shape.logEnding + (peakPrior(sd, onset) + positive);
  keep(rise, onset, shape.power, rising, rolling);
  return Math.max(rising, rolling);
}

function keep(rise: Rise, { span, stalls }: Onset, power: number, rising: number, rolling: number): void {
  const cell = rise.cells++;
  rise.spanMiles[cell] = span;
  rise.stalls[cell] = stalls;
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
 * Logarithm of the gain's prior density where the readings put it (`sd`: of the gain). Miles from onset to the limit are even in their
 * logarithm; gain = limit * (span / miles)^power turns that into a density of the gain.
 */
function gainPrior(sd: number, bank: CurveBank, onset: Onset, shape: Shape, limitExcessF: number, numbers: ModelNumbers): number {
  const gain = Math.max(fit.gain, LEAST_GAIN_SDS * sd, LEAST_GAIN_F);
  const logMiles = onset.logSpan + Math.log(limitExcessF / gain) / shape.power;
  const beyond = Math.max(bank.logMilesLow - logMiles, logMiles - bank.logMilesHigh, 0) / numbers.milesToLimitFade;
  return -0.5 * beyond * beyond - Math.log(shape.logMilesWidth * gain);
}

/** Logarithm of the density of a gain reached that many miles into a trend that rolls over, and still goes up. */
function peakPrior(sd: number, { peakF, logPeakDensity, upNats }: Onset): number {
  const share = Math.max(fit.gain, LEAST_GAIN_SDS * sd) / peakF;
  return -0.5 * (share * share) + logPeakDensity - upNats;
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
