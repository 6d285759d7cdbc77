import type { Units } from "../line/railroad.ts";
import type { Pass } from "./pass.ts";

type Measured = Pick<Pass, "axles" | "ms" | "gapInches" | "speedMph" | "bearingRiseF" | "ambientF">;

/**
 * No whole train is as hot or as cold as this, whatever its load and the weather: healthy bearings run 20 to 60 °F above
 * ambient (from memory). Wide on purpose: a doubt here is about the line file, never about a bearing.
 */
const HOTTEST_TRAIN_F = 120;
const COLDEST_TRAIN_F = -25;
/** Middle axle spacing of any train: half of all gaps are inside trucks (5 ft to 9 ft), half over couplings and between trucks. */
const SHORTEST_MIDDLE_INCHES = 45;
const LONGEST_MIDDLE_INCHES = 260;
/** A usual middle spacing, to name the likelier unit by. */
const USUAL_MIDDLE_INCHES = 85;
const USUAL_RISE_F = 35;
const USUAL_AMBIENT_F = 60;
/** Weather that speaks against a unit (assumption), and how much. */
const HOTTEST_DAY_F = 120;
const COLDEST_DAY_F = -50;
const IMPOSSIBLE_F = 100;
/** Two wrong words in a line file are less likely than one: worth this many °F of the usual rise. */
const WORD_WRONG_F = 40;
/** Fewer axles say nothing about a train's middle. */
const FEWEST_AXLES = 12;
/** A wrong unit is wrong on every axle, so one in seven is asked first: with trucks of two and cars of four, each position of a car in turn. */
const SAMPLED = 7;
/** Fewer that were measured settle nothing: then the whole train is asked. */
const FEWEST_SAMPLED = 4;
/** The speed column against distance over time: 1.609 when km/h are sent for mph, 0.621 the other way round. */
const KM_PER_MILE = 1.609344;
const SPEED_TOLERANCE = 0.12;

const INCHES_PER_MILE = 63360;
const MS_PER_HOUR = 3_600_000;

const GAP_UNITS: [Units["gap"], number][] = [
  ["in", 1],
  ["ft", 12],
  ["mm", 1 / 25.4],
  ["cm", 1 / 2.54],
];

/**
 * Whether a site's readings are impossible for a whole train under the units declared for it, in words with the likely
 * unit; null when they are possible. `declared` makes the words exact.
 */
export function doubtUnits(pass: Measured, declared: Units | null = null): string | null {
  if (pass.axles < FEWEST_AXLES) return null;
  return doubtTemperature(pass, declared) ?? doubtGap(pass, declared) ?? doubtSpeed(pass, declared);
}

function doubtTemperature(pass: Measured, declared: Units | null): string | null {
  const [left, right] = pass.bearingRiseF;
  if (sampleIsPossible(left) && sampleIsPossible(right)) return null;
  const possible = (mean: number) => mean > COLDEST_TRAIN_F && mean < HOTTEST_TRAIN_F;
  // A mean in bounds needs no median; one hot bearing can lift a mean, not a median.
  if (possible(mean(left)) && possible(mean(right))) return null;
  const middle = median([...left, ...right]);
  if (Number.isNaN(middle) || possible(middle)) return null;
  const found = `the middle bearing reads ${Math.round(middle)} °F above ambient, which no whole train does`;
  return `${found}; ${likelyTemperature(pass.ambientF, middle, declared)}`;
}

/** Whether enough readings were sampled and every one of them is such as a whole train may have. */
function sampleIsPossible(riseF: Float32Array): boolean {
  let asked = 0;
  for (let row = 0; row < riseF.length; row += SAMPLED) {
    const value = riseF[row]!;
    if (value <= COLDEST_TRAIN_F || value >= HOTTEST_TRAIN_F) return false;
    if (!Number.isNaN(value)) asked++;
  }
  return asked >= FEWEST_SAMPLED;
}

function likelyTemperature(ambientF: number, middleF: number, declared: Units | null): string {
  if (declared === null)
    return middleF > 0 ? "the readings are likely absolute or in °F" : "the readings are likely above ambient already, or in °C";
  // What the site sent for the middle bearing, then what it would mean in each other unit.
  const ambient = Number.isNaN(ambientF) ? USUAL_AMBIENT_F : ambientF;
  const sent = sentFor(middleF, declared, ambient);
  const ambientSent = declared.temperature === "C" ? (ambient - 32) / 1.8 : ambient;
  let likely = "";
  let nearest = Number.POSITIVE_INFINITY;
  for (const temperature of ["F", "C"] as const) {
    for (const reading of ["above-ambient", "absolute"] as const) {
      if (temperature === declared.temperature && reading === declared.reading) continue;
      const words = (temperature === declared.temperature ? 0 : 1) + (reading === declared.reading ? 0 : 1);
      const thenF = temperature === "C" ? ambientSent * 1.8 + 32 : ambientSent;
      const weather = thenF > HOTTEST_DAY_F || thenF < COLDEST_DAY_F ? IMPOSSIBLE_F : 0;
      const off = Math.abs(riseFrom(sent, temperature, reading, thenF) - USUAL_RISE_F) + words * WORD_WRONG_F + weather;
      if (off < nearest) {
        nearest = off;
        likely = `°${temperature} ${reading}`;
      }
    }
  }
  return `the line file says °${declared.temperature} ${declared.reading}, the site likely sends ${likely}`;
}

function sentFor(middleF: number, { temperature, reading }: Units, ambientF: number): number {
  const asF = reading === "absolute" ? middleF + ambientF : middleF;
  if (temperature === "F") return asF;
  return reading === "absolute" ? (asF - 32) / 1.8 : asF / 1.8;
}

function riseFrom(sent: number, temperature: "F" | "C", reading: Units["reading"], ambientF: number): number {
  const scaled = temperature === "C" ? sent * 1.8 : sent;
  return reading === "absolute" ? scaled + (temperature === "C" ? 32 : 0) - ambientF : scaled;
}

function doubtGap(pass: Measured, declared: Units | null): string | null {
  const average = mean(pass.gapInches);
  if (!(average < SHORTEST_MIDDLE_INCHES * 1.5 || average > LONGEST_MIDDLE_INCHES)) return null;
  // Many long cars make a long average, so the middle is asked: by counting first, since nearly every train is possible.
  if (middleIsBetween(pass.gapInches, SHORTEST_MIDDLE_INCHES, LONGEST_MIDDLE_INCHES)) return null;
  const middle = median(pass.gapInches);
  if (Number.isNaN(middle)) return null;
  const found = `the middle axle spacing is ${Math.round(middle)} inches, which no train has`;
  if (declared === null) return `${found}; the spacings are likely in another unit`;
  const perSent = GAP_UNITS.find(([unit]) => unit === declared.gap)![1];
  let likely: Units["gap"] = declared.gap;
  let nearest = Number.POSITIVE_INFINITY;
  for (const [unit, inches] of GAP_UNITS) {
    const off = Math.abs(Math.log((middle / perSent) * inches) - Math.log(USUAL_MIDDLE_INCHES));
    if (unit !== declared.gap && off < nearest) {
      nearest = off;
      likely = unit;
    }
  }
  return `${found}; the line file says ${declared.gap}, the site likely sends ${likely}`;
}

/** Speeds against what spacing and time say. */
function doubtSpeed(pass: Measured, declared: Units | null): string | null {
  if (sampledSpeedsAgree(pass)) return null;
  const overall = mean(pass.speedMph) / travelledMph(pass);
  if (!isKilometres(overall)) return null;
  const ratios: number[] = [];
  for (let row = 1; row < pass.axles; row++) {
    const ratio = ratioAt(pass, row);
    if (ratio !== null) ratios.push(ratio);
  }
  if (!isKilometres(median(ratios))) return null;
  const likely = overall > 1 ? "km/h" : "mph";
  const said = declared === null ? "" : `; the line file says ${declared.speed}`;
  return `speeds are ${overall.toFixed(2)} times distance over time${said}, the site likely sends ${likely}`;
}

/** Whether enough speeds were sampled and every one of them is what spacing and time say. */
function sampledSpeedsAgree(pass: Measured): boolean {
  let asked = 0;
  for (let row = 1; row < pass.axles; row += SAMPLED) {
    const ratio = ratioAt(pass, row);
    if (ratio === null || Number.isNaN(ratio)) continue;
    if (Math.abs(ratio - 1) > SPEED_TOLERANCE) return false;
    asked++;
  }
  return asked >= FEWEST_SAMPLED;
}

/** Speed sent for an axle against its spacing over the time since the one before; null where no time passed. */
function ratioAt(pass: Measured, row: number): number | null {
  const hours = (pass.ms[row]! - pass.ms[row - 1]!) / MS_PER_HOUR;
  return hours > 0 ? pass.speedMph[row]! / (pass.gapInches[row]! / INCHES_PER_MILE / hours) : null;
}

function isKilometres(ratio: number): boolean {
  return Math.abs(ratio / KM_PER_MILE - 1) < SPEED_TOLERANCE || Math.abs(ratio * KM_PER_MILE - 1) < SPEED_TOLERANCE;
}

/** Mean speed of the pass from its spacings and times, mph; NaN when either is missing. */
export function travelledMph(pass: Pick<Pass, "axles" | "ms" | "gapInches">): number {
  let inches = 0;
  let ms = 0;
  for (let row = 1; row < pass.axles; row++) {
    const took = pass.ms[row]! - pass.ms[row - 1]!;
    const gap = pass.gapInches[row]!;
    if (took > 0 && gap > 0) {
      inches += gap;
      ms += took;
    }
  }
  return inches / INCHES_PER_MILE / (ms / MS_PER_HOUR);
}

function mean(values: Float32Array): number {
  let sum = 0;
  let count = 0;
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    if (!Number.isNaN(value)) {
      sum += value;
      count++;
    }
  }
  return sum / count;
}

/** Whether the median is above `low` and below `high`, without sorting. */
function middleIsBetween(values: Float32Array, low: number, high: number): boolean {
  let count = 0;
  let tooLow = 0;
  let tooHigh = 0;
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    if (Number.isNaN(value)) continue;
    count++;
    if (value <= low) tooLow++;
    if (value >= high) tooHigh++;
  }
  const middle = count >> 1;
  return count > 0 && tooLow <= middle && count - tooHigh > middle;
}

function median(values: ArrayLike<number>): number {
  const sorted = Float64Array.from(values)
    .filter((value) => !Number.isNaN(value))
    .sort();
  return sorted.length === 0 ? Number.NaN : sorted[sorted.length >> 1]!;
}
