import { hypotenuse, hypotenuseOfThree } from "./hypotenuse.ts";
import { type ModelNumbers, READINGS_MAX } from "./model-numbers.ts";
import { bellAt, ROOT_TWO_PI_INVERSE } from "./normal.ts";
import type { BearingReading, BearingTrack } from "./track.ts";

/** Nothing is impossible: a reading no noise explains still has this density per °F (assumption). */
const DENSITY_FLOOR = 1e-8;
/** A side's warmth against the warmest of the journey counts down to this share (assumption). */
const WARMTH_FLOOR = 0.1;
/** Below this spread of its bearings a side's own noise would make the ratio wild, °F (assumption). */
const WARMTH_FROM_F = 1.5;
/** Warmth differs over a journey when some reading is under this share of the warmest (assumption). */
const WARMTH_VARIES_UNDER = 0.8;
/** Share of under-reads on a pass that says little, and the largest chance drawn from it. */
const LOW_SHARE_MAX = 0.3;
/** So many standard deviations under an earlier reading a rising bearing is first taken for under-read (assumption). */
const FAR_UNDER_SDS = 3.5;

/**
 * The measured readings of one bearing as columns, made ready for the hypotheses: one object, filled again for every outlook.
 * `index` leads back to the track.
 */
export class Sight {
  count = 0;
  nowMiles = 0;
  firstMiles = 0;
  /** Standard deviation of an ordinary bearing's own lasting level. */
  levelSdF = 0;
  readonly index = new Int32Array(READINGS_MAX);
  readonly miles = new Float64Array(READINGS_MAX);
  readonly excessF = new Float64Array(READINGS_MAX);
  readonly sdF = new Float64Array(READINGS_MAX);
  /** One over the same for a bearing that rises: its curve strays from every simple shape, the more the hotter it is. */
  readonly risingPrecision = new Float64Array(READINGS_MAX);
  /** Of a rise's last readings: a train that has cooled on the way has cooled its hot bearing too, which then says little. */
  readonly bendSdF = new Float64Array(READINGS_MAX);
  /** One over sdF. */
  readonly precision = new Float64Array(READINGS_MAX);
  /** Twice the chance of an under-read, and the constant of the normal density times the chance of an ordinary reading. */
  readonly twiceUnderRead = new Float64Array(READINGS_MAX);
  readonly ordinary = new Float64Array(READINGS_MAX);
  /** Warmth of the side against the warmest of the journey, 0.1..1: a warm runner's excess grows with the train's. */
  readonly warmth = new Float64Array(READINGS_MAX);
  /** First guess of a reading's weight for a bearing that only rises: far under an earlier one means under-read. */
  readonly monotone = new Float64Array(READINGS_MAX);
  warmthVaries = false;
}

export const sight = new Sight();

/** Fills `sight` from a track: the newest readings that were measured, heat of brakes taken off. */
export function look(track: BearingTrack, numbers: ModelNumbers): Sight {
  let count = 0;
  let from = track.length;
  while (from > 0 && count < READINGS_MAX) if (measured(track[--from]!)) count++;
  sight.count = 0;
  let spread = 0;
  let warmest = WARMTH_FROM_F;
  for (let i = from; i < track.length; i++) {
    const reading = track[i]!;
    if (!measured(reading)) continue;
    take(reading, i, numbers);
    spread += reading.spreadF;
    warmest = Math.max(warmest, sight.warmth[sight.count - 1]!);
  }
  const last = track[track.length - 1];
  sight.nowMiles = last === undefined ? 0 : last.miles;
  sight.firstMiles = track.length === 0 ? 0 : track[0]!.miles;
  sight.levelSdF = Math.max(numbers.noiseFloorF, sight.count === 0 ? 0 : (numbers.levelShareOfSpread * spread) / sight.count);
  compare(warmest, numbers);
  return sight;
}

function measured(reading: BearingReading): boolean {
  return Number.isFinite(reading.excessF) && Number.isFinite(reading.spreadF);
}

function take(reading: BearingReading, index: number, numbers: ModelNumbers): void {
  const k = sight.count++;
  const shared = sharedHeat(reading, numbers);
  const excess = reading.excessF - shared;
  const noise = Math.max(numbers.noiseFloorF, numbers.noiseShareOfSpread * reading.spreadF);
  const scatter = numbers.noiseShareOfExcess * Math.max(0, excess) + 0.3 * shared;
  const factor = reading.doubted ? numbers.doubtedNoiseFactor : 1;
  sight.index[k] = index;
  sight.miles[k] = reading.miles;
  sight.excessF[k] = excess;
  sight.sdF[k] = factor * hypotenuse(noise, scatter);
  sight.precision[k] = 1 / sight.sdF[k]!;
  const chance = reading.doubted ? numbers.doubtedUnderReadChance : numbers.underReadChance;
  const underRead = Math.min(LOW_SHARE_MAX, Math.max(chance, reading.lowShare ?? 0));
  sight.twiceUnderRead[k] = underRead * 2;
  sight.ordinary[k] = (1 - underRead - numbers.overReadChance) * ROOT_TWO_PI_INVERSE;
  sight.warmth[k] = warmthOf(reading.spreadF, numbers);
}

/**
 * How warm a train runs, on a scale of its own: the differences between its bearings grow and shrink with its warmth (a first-order
 * response scales them all alike), and their spread knows neither a scanner's bias nor the speed, as their median does.
 */
function warmthOf(spreadF: number, numbers: ModelNumbers): number {
  const own = spreadF * spreadF - numbers.scannerNoiseF * numbers.scannerNoiseF;
  return own > WARMTH_FROM_F * WARMTH_FROM_F ? Math.sqrt(own) : WARMTH_FROM_F;
}

/**
 * Heat that the bearing shares with the other end of its axle, with the rest of its vehicle or with its wheel: brakes. Only what
 * goes beyond an ordinary scatter counts, and never more than the bearing has.
 */
export function sharedHeat(reading: BearingReading, numbers: ModelNumbers): number {
  const beyond = numbers.sharedHeatSpreads * reading.spreadF;
  let shared = 0;
  if (reading.mateExcessF > shared + beyond) shared = reading.mateExcessF - beyond;
  if (reading.vehicleExcessF > shared + beyond) shared = reading.vehicleExcessF - beyond;
  const wheel = numbers.wheelCoupling * (reading.wheelRiseF - numbers.wheelOrdinaryF);
  if (wheel > shared) shared = wheel;
  return Math.min(shared, Math.max(0, reading.excessF));
}

function compare(warmest: number, numbers: ModelNumbers): void {
  let highest = -Infinity;
  let warmestBefore = 0;
  sight.warmthVaries = false;
  for (let k = 0; k < sight.count; k++) {
    const excess = sight.excessF[k]!;
    const sd = sight.sdF[k]!;
    const warmth = Math.max(WARMTH_FLOOR, sight.warmth[k]! / warmest);
    sight.warmth[k] = warmth;
    if (warmth < WARMTH_VARIES_UNDER) sight.warmthVaries = true;
    warmestBefore = Math.max(warmestBefore, warmth);
    const cooled = numbers.cooledError * (1 - warmth / warmestBefore) * Math.max(0, highest);
    sight.bendSdF[k] = hypotenuse(sd, cooled);
    sight.risingPrecision[k] = 1 / hypotenuseOfThree(sd, numbers.shapeError * Math.max(0, excess), cooled);
    sight.monotone[k] = excess < highest - FAR_UNDER_SDS * sd ? 0.02 : 1;
    highest = Math.max(highest, excess);
  }
}

/**
 * Density per °F of reading `k`, which lies `residualF` over a hypothesis (`precision`: 1 / its standard deviation): normal, or one-sided
 * low (a scanner can under-read by up to 85 °F, deep ones less often), or a rare false high. `inlierShare[0]` then says how much of it
 * is the normal part.
 */
export function readingDensity(k: number, residualF: number, precision: number, numbers: ModelNumbers): number {
  const normal = sight.ordinary[k]! * precision * bellAt(residualF * precision);
  let other = DENSITY_FLOOR;
  if (residualF < 0) {
    const depth = 1 + residualF / numbers.underReadMaxF;
    if (depth > 0) other += (sight.twiceUnderRead[k]! * depth) / numbers.underReadMaxF;
  } else if (residualF < numbers.overReadMaxF) other += numbers.overReadChance / numbers.overReadMaxF;
  inlierShare[0] = normal / (normal + other);
  return normal + other;
}

/** Set by the last call of readingDensity: chance that its reading was an ordinary one. A column of one, for a lone number would be boxed. */
export const inlierShare = new Float64Array(1);
