import type { ModelNumbers } from "./model-numbers.ts";

/** Onsets tried, miles before now: fine where it matters. */
const ONSET_EDGES = [0, 4, 9, 16, 25, 38, 56, 82, 120, 180, 290] as const;
export const ONSETS = ONSET_EDGES.length - 1;
export const SHAPES_MAX = 6;
/** sqrt(2 / pi). */
const HALF_NORMAL = 0.7978845608028654;
/** sqrt(2 pi). */
const ROOT_TWO_PI = 2.5066282746310002;

/** An onset of the bank: it lies between `near` and `far` miles before now, and `span` stands for all of it. */
export interface Onset {
  near: number;
  far: number;
  span: number;
  logSpan: number;
  /** Half-normal spread of how high a trend that rolls over has come after the span, and the logarithm of its density at none. */
  peakF: number;
  logPeakDensity: number;
  /** What it costs a trend that rolls over to have gone up for so long, natural logarithm. */
  upNats: number;
  /** Chance that a rise that old stalls on a way ahead. */
  stalls: number;
}

/** A shape of the bank, excess ~ miles^power, with the logarithms of its prior odds; -Infinity: no failing bearing has it. */
export interface Shape {
  power: number;
  logFailing: number;
  logEnding: number;
  /** Width of the prior of miles to the limit, in their logarithm, times the power. */
  logMilesWidth: number;
}

/** All about the bank of curves that follows from the model's numbers alone: worked out once for them. */
export interface CurveBank {
  onsets: readonly Onset[];
  shapes: readonly Shape[];
  logMilesLow: number;
  logMilesHigh: number;
}

let bank: CurveBank | null = null;
let bankOf: ModelNumbers | null = null;

/** `numbers` are never changed once made. */
export function curveBankOf(numbers: ModelNumbers): CurveBank {
  if (bank === null || bankOf !== numbers) {
    bank = made(numbers);
    bankOf = numbers;
  }
  return bank;
}

function made(numbers: ModelNumbers): CurveBank {
  const logMilesLow = Math.log(numbers.milesToLimitLow);
  const logMilesHigh = Math.log(numbers.milesToLimitHigh);
  const width = logMilesHigh - logMilesLow + ROOT_TWO_PI * numbers.milesToLimitFade;
  const shapes = numbers.shapes.slice(0, SHAPES_MAX).map(
    ([failing, ending, power]): Shape => ({
      power,
      logFailing: Math.log(failing),
      logEnding: Math.log((ending * numbers.rollOverPerMile) / numbers.onsetPerMile),
      logMilesWidth: width * power,
    }),
  );
  return { onsets: ONSET_EDGES.slice(1).map((far, i) => onsetOf(ONSET_EDGES[i]!, far, numbers)), shapes, logMilesLow, logMilesHigh };
}

function onsetOf(near: number, far: number, numbers: ModelNumbers): Onset {
  const span = (near + far) / 2;
  const peakF = numbers.rollOverPeakF * Math.sqrt(span / (span + numbers.rollOverHalfMiles));
  return {
    near,
    far,
    span,
    logSpan: Math.log(span),
    peakF,
    logPeakDensity: Math.log(HALF_NORMAL / peakF),
    upNats: span / numbers.rollOverUpMiles,
    stalls: numbers.stallChance * (1 - Math.exp(-span / numbers.youngMiles)),
  };
}
