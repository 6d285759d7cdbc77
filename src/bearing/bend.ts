import { type ModelNumbers, READINGS_MAX } from "./model-numbers.ts";
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
  let isFirst = true;
  for (let k = 0; k < sight.count; k++) {
    const at = sight.miles[k]!;
    if (!(at > onset)) continue;
    if (isFirst) setWay(first, at - onset, numbers.bendMiles);
    goOn(isFirst ? first : steps[k]!, slopeSd, numbers.bendMiles);
    isFirst = false;
    const curve = rise.base[cell]! + rise.gain[cell]! * raise((at - onset) / span, rise.power[cell]!);
    take(k, sight.excessF[k]! - curve - state.level, sight.bendSdF[k]!, numbers);
  }
  goOn(steps[sight.count]!, slopeSd, numbers.bendMiles);
  rise.bendF[cell] = state.level;
  rise.bendSlope[cell] = state.slope;
  rise.bendVar[cell] = state.varLevel;
  rise.bendCovariance[cell] = state.covariance;
  rise.bendVarSlope[cell] = state.varSlope;
  rise.bendSlopeSd[cell] = slopeSd;
}

/** Ways from each reading to the one before, and from the last to now: the same for every curve. */
const steps: WayAhead[] = Array.from({ length: READINGS_MAX + 1 }, () => ({ miles: 0, reach: 0, growth: 0 }));
/** From the onset of a curve to the first reading after it. */
const first: WayAhead = { miles: 0, reach: 0, growth: 0 };

/** To be called once for the readings that bends are followed over. */
export function takeSteps(sight: Sight, numbers: ModelNumbers): void {
  for (let k = 1; k <= sight.count; k++) {
    const at = k === sight.count ? sight.nowMiles : sight.miles[k]!;
    setWay(steps[k]!, at - sight.miles[k - 1]!, numbers.bendMiles);
  }
}

/** One scratch a thread: an outlook is not re-entrant. */
const state = { level: 0, slope: 0, varLevel: 0, covariance: 0, varSlope: 0 };

/** A way ahead as a bend sees it: worked out once for all curves. */
export interface WayAhead {
  miles: number;
  /** Miles that a slope of now counts for, since it fades. */
  reach: number;
  /** Variance that a level gains over the way from the wandering of its slope alone, per square of the slope's standard deviation. */
  growth: number;
}

export function wayAhead(miles: number, lengthMiles: number): WayAhead {
  const way = { miles: 0, reach: 0, growth: 0 };
  setWay(way, miles, lengthMiles);
  return way;
}

function setWay(way: WayAhead, miles: number, lengthMiles: number): void {
  const kept = Math.exp(-miles / lengthMiles);
  way.miles = miles;
  way.reach = lengthMiles * (1 - kept);
  way.growth = lengthMiles * lengthMiles * Math.max(0, (2 * miles) / lengthMiles - 3 + 4 * kept - kept * kept);
}

function goOn(way: WayAhead, slopeSd: number, lengthMiles: number): void {
  if (!(way.miles > 0)) return;
  const { reach } = way;
  const kept = 1 - reach / lengthMiles;
  const variance = slopeSd * slopeSd;
  const { covariance, varSlope } = state;
  state.level += reach * state.slope;
  state.slope *= kept;
  state.varLevel += 2 * reach * covariance + reach * reach * varSlope + variance * way.growth;
  state.covariance = kept * (covariance + reach * varSlope) + (variance * reach * reach) / lengthMiles;
  state.varSlope = kept * kept * varSlope + variance * (1 - kept * kept);
}

/** One reading, weighed as ordinary or not. */
function take(k: number, innovation: number, sdF: number, numbers: ModelNumbers): void {
  const total = state.varLevel + sdF * sdF;
  readingDensity(k, innovation, 1 / Math.sqrt(total), numbers);
  const share = inlierShare[0]!;
  const toLevel = (share * state.varLevel) / total;
  const toSlope = (share * state.covariance) / total;
  state.level += toLevel * innovation;
  state.slope += toSlope * innovation;
  state.varSlope -= toSlope * state.covariance;
  state.covariance -= toSlope * state.varLevel;
  state.varLevel -= toLevel * state.varLevel;
}
