import type { AheadSite } from "../bearing/track.ts";
import type { Leg } from "../journey/journey.ts";
import type { Railroad, SetOut, Way } from "../line/railroad.ts";
import type { Rules } from "./rule-set.ts";

/** A crossing farther ahead than this is none: no journey is followed so far. Assumption. */
export const FAR_MILES = 500;

/** A set-out place that a train can still use, and how far it is from the site passed. */
export interface ReachableSetOut {
  setOut: SetOut;
  miles: number;
}

/** Sites looked ahead: the next one and the next but one. */
const LOOK_AHEAD_HOPS = 2;

/**
 * The ways to the next sites that will measure the train of a leg, and to the next but one. A site out of service is as if it
 * were not there: the gap over it is the one that counts.
 */
export function waysAhead(railroad: Railroad, { pass, direction, outAhead = [] }: Leg): readonly Way[] {
  const ways = railroad.ahead(pass.site, pass.track, direction, LOOK_AHEAD_HOPS + outAhead.length);
  if (outAhead.length === 0) return ways;
  const isMeasuring = (site: string) => !outAhead.includes(site);
  return ways
    .filter(({ site }) => isMeasuring(site))
    .map((way) => ({ ...way, over: way.over.filter(isMeasuring) }))
    .filter(({ over }) => over.length < LOOK_AHEAD_HOPS);
}

/**
 * The next site and the next but one, for the outlook. Where the way is not known (a junction ahead) the farthest of the
 * neighbours counts: the longer gap is the worse one. Where the line ends, the rules' assumed gap stands in, with no site. The
 * distance that the rules look ahead for a `warn`, where they set one, comes third.
 */
export function sitesAhead(ways: readonly Way[], rules: Rules): AheadSite[] {
  const next = farthest(ways, 0);
  const nextMiles = next?.miles ?? rules.hazard.assumedGapMiles;
  const afterNext = farthest(ways, 1);
  const afterNextMiles = Math.max(afterNext?.miles ?? 0, nextMiles + (afterNext === null ? rules.hazard.assumedGapMiles : 0));
  const sites = [
    { site: next?.site ?? "", miles: nextMiles },
    { site: afterNext?.site ?? "", miles: afterNextMiles },
  ];
  const { within } = rules.levels.warn.raise;
  return within === undefined ? sites : [...sites, { site: "", miles: within.miles }];
}

/** Neighbour at `over` sites in between that lies farthest ahead; the first of equals by site id, so that order does not matter. */
export function farthest(ways: readonly Way[], over: number): Way | null {
  let best: Way | null = null;
  for (const way of ways) {
    if (way.over.length !== over) continue;
    if (best === null || way.miles > best.miles || (way.miles === best.miles && way.site < best.site)) best = way;
  }
  return best;
}

/**
 * How much a warning is worth before this gap: its length by the rules' table (straight lines between the steps), and
 * whether a vehicle could be set out in it. The chances that raise a level are divided by it.
 */
export function hazardWeight(ways: readonly Way[], rules: Rules): number {
  const next = farthest(ways, 0);
  const weight = interpolated(rules.hazard.gap, next?.miles ?? rules.hazard.assumedGapMiles);
  const none = next === null || next.setOuts.length === 0;
  return none ? weight * rules.hazard.withoutSetOut : weight;
}

function interpolated(steps: Rules["hazard"]["gap"], miles: number): number {
  let before = steps[0]!;
  if (miles <= before.miles) return before.weight;
  for (const step of steps) {
    if (miles <= step.miles) {
      if (step.miles === before.miles) return step.weight;
      return before.weight + ((step.weight - before.weight) * (miles - before.miles)) / (step.miles - before.miles);
    }
    before = step;
  }
  return before.weight;
}
