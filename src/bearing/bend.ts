import type { ModelNumbers } from "./model-numbers.ts";
import { raise } from "./power.ts";
import type { Rise } from "./rising.ts";
import { inlierShare, readingDensity, type Sight } from "./sight.ts";

/**
 * A rise bends: it stalls, dips, or steepens, and no simple curve from its onset says so. What it strays from its curve is followed
 * by a second filter over the readings since the onset: a level whose slope wanders about zero (Ornstein-Uhlenbeck, integrated;
 * Kalman filter with the exact covariances of a step). So the last readings, not the whole curve, say where it stands and goes.
 */
export function followBend(sight: Sight, rise: Rise, cell: number, numbers: ModelNumbers): void {
  const span = rise.spanMiles[cell]!;
  const onset = sight.nowMiles - span;
  const slopeSd = (numbers.bendShare * Math.max(0, rise.gain[cell]!)) / span + numbers.bendFPerMile;
  state.level = 0;
  state.slope = 0;
  state.varLevel = 0;
  state.covariance = 0;
  state.varSlope = slopeSd * slopeSd;
  let miles = onset;
  for (let k = 0; k < sight.count; k++) {
    const at = sight.miles[k]!;
    if (!(at > onset)) continue;
    goOn(at - miles, slopeSd, numbers.bendMiles);
    miles = at;
    const curve = rise.base[cell]! + rise.gain[cell]! * raise((at - onset) / span, rise.power[cell]!);
    take(sight.excessF[k]! - curve - state.level, sight.bendSdF[k]!, sight.underReadChance[k]!, numbers);
  }
  goOn(sight.nowMiles - miles, slopeSd, numbers.bendMiles);
  rise.bendF[cell] = state.level;
  rise.bendSlope[cell] = state.slope;
  rise.bendVar[cell] = state.varLevel;
  rise.bendCovariance[cell] = state.covariance;
  rise.bendVarSlope[cell] = state.varSlope;
  rise.bendSlopeSd[cell] = slopeSd;
}

/** One scratch a thread: an outlook is not re-entrant. */
const state = { level: 0, slope: 0, varLevel: 0, covariance: 0, varSlope: 0 };

/** Variance that a level gains over `miles` from the wandering of its slope alone, per square of the slope's standard deviation. */
export function bendGrowth(miles: number, lengthMiles: number): number {
  const kept = Math.exp(-miles / lengthMiles);
  return lengthMiles * lengthMiles * Math.max(0, (2 * miles) / lengthMiles - 3 + 4 * kept - kept * kept);
}

function goOn(miles: number, slopeSd: number, lengthMiles: number): void {
  if (!(miles > 0)) return;
  const kept = Math.exp(-miles / lengthMiles);
  const reach = lengthMiles * (1 - kept);
  const variance = slopeSd * slopeSd;
  const { covariance, varSlope } = state;
  state.level += reach * state.slope;
  state.slope *= kept;
  state.varLevel += 2 * reach * covariance + reach * reach * varSlope + variance * bendGrowth(miles, lengthMiles);
  state.covariance = kept * (covariance + reach * varSlope) + variance * lengthMiles * (1 - kept) * (1 - kept);
  state.varSlope = kept * kept * varSlope + variance * (1 - kept * kept);
}

/** One reading, weighed as ordinary or not. */
function take(innovation: number, sdF: number, underReadChance: number, numbers: ModelNumbers): void {
  const total = state.varLevel + sdF * sdF;
  readingDensity(innovation, 1 / Math.sqrt(total), underReadChance, numbers);
  const toLevel = (inlierShare * state.varLevel) / total;
  const toSlope = (inlierShare * state.covariance) / total;
  state.level += toLevel * innovation;
  state.slope += toSlope * innovation;
  state.varSlope -= toSlope * state.covariance;
  state.covariance -= toSlope * state.varLevel;
  state.varLevel -= toLevel * state.varLevel;
}
