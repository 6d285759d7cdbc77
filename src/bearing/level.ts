import type { ByRail, Pass } from "../pass/pass.ts";
import type { Biases } from "./biases.ts";
import type { Levels } from "./levels.ts";
import { middle } from "./middle.ts";
import { MODEL_NUMBERS } from "./model-numbers.ts";
import { MAD_TO_SD } from "./robust.ts";

/** A pass holds at most 2,000 axles (feed contract); both rails together fill one scratch column. */
const AXLES_MAX = 2000;

/** Spread of an ordinary side while it cannot be measured, and never taken for smaller (assumption). */
const ORDINARY_SPREAD_F = 7;
const SPREAD_FLOOR_F = 2.5;
/** A side's own figures count as their number of bearings; what they are shrunk toward counts as this many (assumption). */
const SHRINK_COUNT = 4;
/** From so many bearings on a side stands by itself. */
const ENOUGH_BEARINGS = 40;

/** Two sides of one train differ by more than this only by sun or a sick scanner (assumption), or this many sd of the biases. */
const SIDE_DIFFERENCE_F = 15;
const SIDE_DIFFERENCE_SDS = 4;
/** A side this cold while the other is warm: the scanner hardly sees the bearings (assumption). */
const COLD_SIDE_F = 5;
const WARM_SIDE_F = 18;
/**
 * A scanner that sees little of the heat: what its side spreads beyond a scanner's own noise is under this share of the other side's,
 * and that is worth comparing (assumption; a bias moves the median, never the spread).
 */
const FLAT_SHARE = 0.4;
const HEAT_SPREAD_F = 3.5;
/** More missing readings than this: the scanner is not whole (assumption). */
const MISSING_SHARE = 0.2;
/** Readings this many spreads below their side are under-reads: an ordinary bearing is there once in 30,000 (normal distribution). */
const LOW_SPREADS = 4;

/** Where rises and their deviations mostly lie, and how finely they are told apart while the middle is looked for, °F: speed hangs on it, no value. */
const RISES_FROM_F = -28;
const RISE_STEP_F = 0.5;
const DEVIATION_STEP_F = 0.125;

/** Doubts that are only said: the median of the side takes the whole offset out again. */
const ONLY_SAID = new Set(["side-hot", "side-cold"]);

const scratch = new Float32Array(AXLES_MAX);
const both = new Float32Array(2 * AXLES_MAX);
const locomotive = new Uint8Array(AXLES_MAX);

/**
 * Makes the readings of a pass comparable: °F over the bearings of the same kind (cars, locomotives) on the same rail of the same
 * pass, scanner bias out. Linear in axles; the only allocations are the columns of the result.
 */
export function level(pass: Pass, biases: Biases): Levels {
  const rows = pass.axles;
  const left = biases.at(pass.site, pass.track, "left", pass.begunMs);
  const right = biases.at(pass.site, pass.track, "right", pass.begunMs);
  // Both rails lie in one piece of memory: they are kept or let go of together.
  const memory = new ArrayBuffer(2 * rows * Float32Array.BYTES_PER_ELEMENT);
  const levels: Levels = {
    excessF: [new Float32Array(memory, 0, rows), new Float32Array(memory, rows * Float32Array.BYTES_PER_ELEMENT, rows)],
    medianF: [Number.NaN, Number.NaN],
    spreadF: [ORDINARY_SPREAD_F, ORDINARY_SPREAD_F],
    biasF: [left.biasF, right.biasF],
    biasSdF: [left.sdF, right.sdF],
    doubts: [[], []],
    lowShare: [0, 0],
  };
  const locomotives = markLocomotives(pass);
  const missing: ByRail<number> = [0, 0];
  for (const rail of [0, 1] as const) {
    const counted = levelKind(pass, levels, rail, 0);
    missing[rail] = rows - counted;
    if (locomotives > 0) missing[rail] -= levelKind(pass, levels, rail, 1);
  }
  doubt(pass, levels, missing);
  return levels;
}

/** Whether `level` would give these levels again: those of the same pass, made with the biases that are in force for it now. */
export function isStillLevel({ site, track, begunMs }: Pass, { biasF, biasSdF }: Levels, biases: Biases): boolean {
  const left = biases.at(site, track, "left", begunMs);
  const right = biases.at(site, track, "right", begunMs);
  return left.biasF === biasF[0] && left.sdF === biasSdF[0] && right.biasF === biasF[1] && right.sdF === biasSdF[1];
}

/** True when a reading of this rail counts less in a bearing's outlook, not only in words. */
export function countsLess(doubts: readonly string[]): boolean {
  for (const word of doubts) if (!ONLY_SAID.has(word)) return true;
  return false;
}

/** Marks the rows under locomotives and says how many there are; a row without a vehicle counts as a car's. */
function markLocomotives(pass: Pass): number {
  locomotive.fill(0, 0, pass.axles);
  let marked = 0;
  for (let v = 0; v < pass.vehicles.length; v++) {
    const vehicle = pass.vehicles[v]!;
    if (vehicle.kind !== "locomotive") continue;
    const end = Math.min(pass.axles, vehicle.firstRow + vehicle.axles);
    for (let row = Math.max(0, vehicle.firstRow); row < end; row++) {
      locomotive[row] = 1;
      marked++;
    }
  }
  return marked;
}

/** Levels the bearings of one kind (0 cars, 1 locomotives) on one rail; returns how many were measured. */
function levelKind(pass: Pass, levels: Levels, rail: 0 | 1, kind: 0 | 1): number {
  const rise = pass.bearingRiseF[rail];
  const excess = levels.excessF[rail];
  const bias = levels.biasF[rail];
  const count = gather(rise, pass.axles, bias, kind, scratch, 0);
  let centre = middle(scratch, count, RISES_FROM_F, RISE_STEP_F);
  if (count < ENOUGH_BEARINGS) centre = shrinkCentre(pass, levels, kind, centre, count);
  let deviations = 0;
  for (let row = 0; row < pass.axles; row++) {
    if (locomotive[row] !== kind) continue;
    const over = rise[row]! - bias - centre;
    excess[row] = over;
    if (!Number.isNaN(over)) scratch[deviations++] = over < 0 ? -over : over;
  }
  if (kind === 1) {
    // A light engine has no cars: its own bearings are the side then.
    if (Number.isNaN(levels.medianF[rail])) levels.medianF[rail] = centre;
    return count;
  }
  levels.medianF[rail] = count === 0 ? Number.NaN : centre;
  const measured = count === 0 ? 0 : middle(scratch, deviations, -DEVIATION_STEP_F, DEVIATION_STEP_F) * MAD_TO_SD;
  const variance = (count * measured * measured + SHRINK_COUNT * ORDINARY_SPREAD_F * ORDINARY_SPREAD_F) / (count + SHRINK_COUNT);
  const spread = Math.max(SPREAD_FLOOR_F, Math.sqrt(variance));
  levels.spreadF[rail] = spread;
  levels.lowShare![rail] = lowShare(excess, pass.axles, -LOW_SPREADS * spread, count);
  return count;
}

/** Copies one kind's measured rises, bias out, to `target` from `at`; returns the new length. */
function gather(rise: Float32Array, rows: number, bias: number, kind: 0 | 1, target: Float32Array, at: number): number {
  let count = at;
  for (let row = 0; row < rows; row++) {
    const value = rise[row]! - bias;
    if (!Number.isNaN(value) && locomotive[row] === kind) target[count++] = value;
  }
  return count;
}

/** A side of few bearings leans on both sides together: one hot bearing of three must not make itself ordinary. */
function shrinkCentre(pass: Pass, levels: Levels, kind: 0 | 1, centre: number, count: number): number {
  const first = gather(pass.bearingRiseF[0], pass.axles, levels.biasF[0], kind, both, 0);
  const all = gather(pass.bearingRiseF[1], pass.axles, levels.biasF[1], kind, both, first);
  if (all === 0) return Number.NaN;
  const common = middle(both, all, RISES_FROM_F, RISE_STEP_F);
  if (count === 0) return common;
  // Fades to nothing at ENOUGH_BEARINGS, so that one bearing more never makes a step.
  const weight = SHRINK_COUNT * (1 - count / ENOUGH_BEARINGS);
  return (count * centre + weight * common) / (count + weight);
}

function lowShare(excess: Float32Array, rows: number, below: number, count: number): number {
  if (count === 0) return 0;
  let low = 0;
  for (let row = 0; row < rows; row++) if (excess[row]! < below && locomotive[row] === 0) low++;
  return low / count;
}

/** What a side spreads beyond the noise of its scanner, °F. */
function heatSpread(spreadF: number): number {
  const { scannerNoiseF } = MODEL_NUMBERS;
  return Math.sqrt(Math.max(0, spreadF * spreadF - scannerNoiseF * scannerNoiseF));
}

function doubt(pass: Pass, levels: Levels, missing: ByRail<number>): void {
  const { medianF, spreadF, biasSdF, doubts } = levels;
  for (const rail of [0, 1] as const) {
    const other = (1 - rail) as 0 | 1;
    const words = doubts[rail];
    if (pass.axles > 0 && missing[rail] === pass.axles) words.push("no-readings");
    else if (missing[rail] > MISSING_SHARE * pass.axles) words.push("readings-missing");
    if (pass.flags.includes(rail === 0 ? "scanner-left" : "scanner-right")) words.push("scanner-flagged");
    if (pass.flags.includes("power")) words.push("power");
    if (pass.flags.includes("units-doubted")) words.push("units-doubted");
    if (medianF[rail] < COLD_SIDE_F && medianF[other] > WARM_SIDE_F) words.push("scanner-low");
    const heat = heatSpread(spreadF[other]);
    if (heat > HEAT_SPREAD_F && heatSpread(spreadF[rail]) < FLAT_SHARE * heat) words.push("scanner-flat");
  }
  const difference = medianF[0] - medianF[1];
  const bound = Math.max(SIDE_DIFFERENCE_F, SIDE_DIFFERENCE_SDS * Math.hypot(biasSdF[0], biasSdF[1]));
  if (Math.abs(difference) > bound) {
    doubts[difference > 0 ? 0 : 1].push("side-hot");
    doubts[difference > 0 ? 1 : 0].push("side-cold");
  }
}
