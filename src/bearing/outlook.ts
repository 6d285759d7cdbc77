import { wayAhead } from "./bend.ts";
import { crossingOf } from "./crossing.ts";
import { Fit, fitLevel } from "./fit.ts";
import { hypotenuse } from "./hypotenuse.ts";
import { FASTEST_HEATING_F_PER_MINUTE, MODEL_NUMBERS, type ModelNumbers, READINGS_MAX } from "./model-numbers.ts";
import { normalCdf } from "./normal.ts";
import { chanceOver, followBends, Rise, riseOf } from "./rising.ts";
import { look, type Sight } from "./sight.ts";
import type { AheadSite, BearingTrack, Outlook } from "./track.ts";
import { type Wander, wander } from "./wandering.ts";

/** A reading counted as ordinary with less than this chance is called a low outlier. */
const USED_SHARE = 0.35;
/** ... and only when another reading lies so many standard deviations over it. */
const LOW_SDS = 2;
/** Below this chance of rising no crossing is told: it would be the projection of noise. */
const CROSSING_FROM = 0.02;

/** The bend of a curve with less than this chance is not followed: it would change nothing that is told. */
const BEND_FROM = 0.002;
/** A hypothesis with less than this chance adds nothing to what is told. */
const NOTHING = 1e-4;
/** No crossing is looked for farther ahead, miles. */
const FARTHEST_MILES = 400;
const MS_PER_MINUTE = 60_000;

const WANDERINGS_MAX = 8;
const LEVELS = 3;
const PLAIN_MAX = LEVELS + WANDERINGS_MAX;

/** Hypotheses that do not rise, by index: healthy, steady, steady with the train's warmth, then the wanderings. */
const logWeight = new Float64Array(PLAIN_MAX);
/** Level it goes on with, and level now: they differ for a warm runner in a train that has cooled for the moment. */
const levelF = new Float64Array(PLAIN_MAX);
const nowF = new Float64Array(PLAIN_MAX);
const varF = new Float64Array(PLAIN_MAX);
const slope = new Float64Array(PLAIN_MAX);
const plainUsed = new Float64Array(READINGS_MAX);

const fit = new Fit();
const rise = new Rise();
const riseWeight = rise.logWeight;
const rollWeight = rise.logRollOver;
const strayed: Wander = { logEvidence: 0, levelF: 0, varF: 0, slopeFPerMile: 0 };

/**
 * Where a bearing is going: four competing hypotheses (healthy; warm and steady; wandering; rising), each with honest prior odds,
 * weighed by all its readings. `limitExcessF`: the limit above the side of the train (limit minus the side's median). `ahead`: the
 * next site, the next but one, and a distance of one's own, miles from now (missing ones: the farthest looked at; the third: the second).
 * Deterministic; about twenty microseconds for eight readings that rise, less for others; not re-entrant (one scratch per thread).
 */
export function outlook(
  track: BearingTrack,
  limitExcessF: number,
  ahead: readonly AheadSite[],
  numbers: ModelNumbers = MODEL_NUMBERS,
): Outlook {
  const sight = look(track, numbers);
  const limit = Math.max(1, limitExcessF);
  const wanderings = Math.min(WANDERINGS_MAX, numbers.wanderings.length);
  const plain = LEVELS + wanderings;
  weighLevels(sight, numbers);
  for (let w = 0; w < wanderings; w++) {
    const [share, amplitudeF, lengthMiles] = numbers.wanderings[w]!;
    wander(sight, amplitudeF, lengthMiles, numbers, strayed);
    logWeight[LEVELS + w] = Math.log(numbers.wanderingShare * share) + strayed.logEvidence;
    levelF[LEVELS + w] = strayed.levelF;
    nowF[LEVELS + w] = strayed.levelF;
    varF[LEVELS + w] = strayed.varF;
    slope[LEVELS + w] = strayed.slopeFPerMile;
  }
  rise.cells = 0;
  if (sight.count > 0) riseOf(sight, limit, strongest(plain), numbers, rise);
  normalise(plain);
  followBends(sight, rise, BEND_FROM, numbers);
  return tell(track, sight, plain, limit, ahead, numbers);
}

/** Healthy and the two kinds of steady: one level each. */
function weighLevels(sight: Sight, numbers: ModelNumbers): void {
  const middleF = upperMedian(sight);
  const start = Math.max(-sight.levelSdF, Math.min(sight.levelSdF, middleF));
  fitLevel(fit, sight, null, sight.levelSdF, start, numbers);
  keep(0, 1, Math.log(1 - numbers.steadyShare - numbers.wanderingShare) + fit.logEvidence);
  plainUsed.set(fit.weight);
  let best = logWeight[0]!;
  for (const warm of [0, 1] as const) {
    const basis = warm === 1 ? sight.warmth : null;
    const at = 1 + warm;
    if (warm === 1 && !sight.warmthVaries) {
      logWeight[at] = -Infinity;
      continue;
    }
    fitLevel(fit, sight, basis, Infinity, middleF, numbers);
    const part = warm === 1 ? numbers.steadyWithTrain : 1 - numbers.steadyWithTrain;
    const share = numbers.steadyShare * (sight.warmthVaries ? part : 1);
    const level = Math.max(fit.gain, 0.5 * Math.sqrt(fit.varGain));
    const prior = Math.exp(-level / numbers.steadyMeanF) / numbers.steadyMeanF;
    const positive = normalCdf(fit.gain / Math.sqrt(fit.varGain));
    const weight = Math.log(share * prior * positive + 1e-300) + fit.logEvidence;
    if (weight > best) {
      best = weight;
      plainUsed.set(fit.weight);
    }
    keep(at, basis === null || sight.count === 0 ? 1 : basis[sight.count - 1]!, weight);
  }
}

function keep(at: number, warmth: number, weight: number): void {
  logWeight[at] = weight;
  levelF[at] = fit.gain;
  nowF[at] = fit.gain * warmth;
  varF[at] = fit.varGain;
  slope[at] = 0;
}

/** The higher of the middle readings: an under-read first reading must not make the start. */
function upperMedian(sight: Sight): number {
  const { count, excessF } = sight;
  for (let i = 0; i < count; i++) {
    let below = 0;
    for (let j = 0; j < count; j++) if (excessF[j]! < excessF[i]! || (excessF[j] === excessF[i] && j < i)) below++;
    if (below === count >> 1) return excessF[i]!;
  }
  return 0;
}

/** Evidence of the best hypothesis that does not rise. */
function strongest(plain: number): number {
  let best = -Infinity;
  for (let i = 0; i < plain; i++) best = Math.max(best, logWeight[i]!);
  return best;
}

/** Turns logarithms of evidence into chances that add up to one, in place. */
function normalise(plain: number): void {
  let top = -Infinity;
  for (let i = 0; i < plain; i++) top = Math.max(top, logWeight[i]!);
  for (let c = 0; c < rise.cells; c++) top = Math.max(top, riseWeight[c]!, rollWeight[c]!);
  let sum = 0;
  for (let i = 0; i < plain; i++) {
    logWeight[i] = Math.exp(logWeight[i]! - top);
    sum += logWeight[i]!;
  }
  for (let c = 0; c < rise.cells; c++) {
    riseWeight[c] = Math.exp(riseWeight[c]! - top);
    rollWeight[c] = Math.exp(rollWeight[c]! - top);
    sum += riseWeight[c]! + rollWeight[c]!;
  }
  for (let i = 0; i < plain; i++) logWeight[i] = logWeight[i]! / sum;
  for (let c = 0; c < rise.cells; c++) {
    riseWeight[c] = riseWeight[c]! / sum;
    rollWeight[c] = rollWeight[c]! / sum;
  }
}

/** The mixture in the words of an Outlook. */
function tell(
  track: BearingTrack,
  sight: Sight,
  plain: number,
  limitF: number,
  ahead: readonly AheadSite[],
  numbers: ModelNumbers,
): Outlook {
  let rising = 0;
  for (let c = 0; c < rise.cells; c++) rising += riseWeight[c]!;
  let wandering = 0;
  for (let i = LEVELS; i < plain; i++) wandering += logWeight[i]!;
  for (let c = 0; c < rise.cells; c++) wandering += rollWeight[c]!;
  const next = milesTo(ahead[0]);
  const nextButOne = Math.max(next, milesTo(ahead[1]));
  const crossing = rising >= CROSSING_FROM ? crossingOf(rise, rising, limitF, numbers) : null;
  const now = present(plain);
  const onItsWay = {
    next: risingBy(next, limitF, numbers),
    nextButOne: risingBy(nextButOne, limitF, numbers),
    within: risingBy(milesTo(ahead[2] ?? ahead[1]), limitF, numbers),
  };
  const still = stillOver(plain, limitF, numbers);
  const reached = readOver(sight, limitF);
  // What has been read over the limit already is no forecast.
  const forecast = (chance: number): number => (reached > 0.5 ? Math.min(1, chance) : told(Math.min(1, chance), numbers.toldChances));
  const chanceNext = Math.max(reached, forecast(still + onItsWay.next));
  return {
    healthy: logWeight[0]!,
    steady: logWeight[1]! + logWeight[2]!,
    wandering,
    rising,
    excessF: now.excessF,
    excessSdF: now.excessSdF,
    slopeFPerMile: now.slopeFPerMile,
    slopeSdFPerMile: now.slopeSdFPerMile,
    chanceNext,
    chanceNextButOne: Math.max(chanceNext, forecast(still + onItsWay.nextButOne)),
    onItsWay,
    crossing,
    fasterThanPublished: rising >= CROSSING_FROM && now.slopeFPerMile * milesPerMinute(track) > FASTEST_HEATING_F_PER_MINUTE,
    used: useOf(track, sight, rising + wandering),
  };
}

/** Chance that the limit is reached already, by the newest reading alone: what is read over it needs no model. */
function readOver(sight: Sight, limitF: number): number {
  const last = sight.count - 1;
  if (last < 0 || sight.excessF[last]! < limitF) return 0;
  return normalCdf((sight.excessF[last]! - limitF) / sight.sdF[last]!);
}

/** Miles to a site ahead; the farthest looked at when there is none, never behind. */
function milesTo(site: AheadSite | undefined): number {
  const miles = site?.miles ?? FARTHEST_MILES;
  return Number.isFinite(miles) ? Math.max(0, miles) : FARTHEST_MILES;
}

/** Chance that what does not rise, or not any more, reaches the limit on the way to the next sites. */
function stillOver(plain: number, limitF: number, numbers: ModelNumbers): number {
  let chance = 0;
  for (let i = 0; i < plain; i++) {
    if (!(logWeight[i]! > NOTHING)) continue;
    // It is about as hot as now: a train that has cooled warms on, a wandering bearing falls back on average.
    const level = nowF[i]! + numbers.warmingShare * (levelF[i]! - nowF[i]!);
    chance += logWeight[i]! * normalCdf((level - limitF) / hypotenuse(Math.sqrt(varF[i]!), numbers.steadySdF));
  }
  const here = wayAhead(0, numbers.bendMiles);
  for (let c = 0; c < rise.cells; c++) if (rollWeight[c]! > NOTHING) chance += rollWeight[c]! * chanceOver(rise, c, here, limitF, numbers);
  return chance;
}

/** A chance by the table of what came of such chances. */
function told(chance: number, table: ModelNumbers["toldChances"]): number {
  let [before, low] = table[0]!;
  for (const [from, value] of table) {
    if (chance <= from) return from === before ? value : low + ((value - low) * (chance - before)) / (from - before);
    before = from;
    low = value;
  }
  return low;
}

/** Chance that the bearing rises and reaches the limit before `miles` from now. */
function risingBy(miles: number, limitF: number, numbers: ModelNumbers): number {
  const way = wayAhead(miles, numbers.bendMiles);
  let chance = 0;
  for (let c = 0; c < rise.cells; c++) if (riseWeight[c]! > NOTHING) chance += riseWeight[c]! * chanceOver(rise, c, way, limitF, numbers);
  return chance;
}

/** Level and slope now, mean and standard deviation over all hypotheses. */
function present(plain: number): { excessF: number; excessSdF: number; slopeFPerMile: number; slopeSdFPerMile: number } {
  let level = 0;
  let square = 0;
  let rate = 0;
  let rateSquare = 0;
  for (let i = 0; i < plain; i++) {
    const weight = logWeight[i]!;
    if (weight === 0) continue;
    level += weight * nowF[i]!;
    square += weight * (nowF[i]! * nowF[i]! + varF[i]!);
    rate += weight * slope[i]!;
    rateSquare += weight * slope[i]! * slope[i]!;
  }
  for (let c = 0; c < rise.cells; c++) {
    const weight = riseWeight[c]! + rollWeight[c]!;
    const mean = rise.base[c]! + rise.gain[c]! + rise.bendF[c]!;
    const perMile = rise.power[c]! / rise.spanMiles[c]!;
    const steep = rise.gain[c]! * perMile + rise.bendSlope[c]!;
    level += weight * mean;
    square += weight * (mean * mean + rise.varBase[c]! + 2 * rise.covariance[c]! + rise.varGain[c]! + rise.bendVar[c]!);
    rate += weight * steep;
    rateSquare += weight * (steep * steep + perMile * perMile * rise.varGain[c]! + rise.bendVarSlope[c]!);
  }
  return {
    excessF: level,
    excessSdF: Math.sqrt(Math.max(0, square - level * level)),
    slopeFPerMile: rate,
    slopeSdFPerMile: Math.sqrt(Math.max(0, rateSquare - rate * rate)),
  };
}

/** Speed of the train over the last leg; 0 when there is none. */
function milesPerMinute(track: BearingTrack): number {
  const last = track[track.length - 1];
  const before = track[track.length - 2];
  if (last === undefined || before === undefined || !(last.timeMs > before.timeMs)) return 0;
  return ((last.miles - before.miles) * MS_PER_MINUTE) / (last.timeMs - before.timeMs);
}

function useOf(track: BearingTrack, sight: Sight, moving: number): Outlook["used"] {
  const weights = moving > 0.5 ? rise.used : plainUsed;
  const used: Outlook["used"] = new Array(track.length).fill("missing");
  for (let k = 0; k < sight.count; k++) {
    const index = sight.index[k]!;
    if (weights[k]! < USED_SHARE && isUnder(sight, k)) used[index] = "low-outlier";
    else used[index] = track[index]!.doubted ? "doubted" : "used";
  }
  return used;
}

/** Another reading lies clearly over this one: what hardly counts may also be a reading too high, or the first sign of a burst. */
function isUnder(sight: Sight, k: number): boolean {
  for (let other = 0; other < sight.count; other++) {
    if (sight.excessF[other]! > sight.excessF[k]! + LOW_SDS * sight.sdF[k]!) return true;
  }
  return false;
}
