import { type WayAhead, wayAhead } from "./bend.ts";
import type { ModelNumbers } from "./model-numbers.ts";
import { chanceOfGoingOn, type Rise } from "./rising.ts";

/** Distances at which the chance of having crossed is worked out, miles from now; between them it is taken as straight. */
const MILES = [0, 1, 2, 3.5, 5, 7, 9, 11.5, 14, 17, 20, 24, 28, 33, 39, 46, 55, 66, 80, 100, 130, 170, 230, 300, 400] as const;
/** Cells with less than this share of the rising hypothesis are left out of the interval. */
const LEAST_SHARE = 0.01;

/**
 * Shares of the model's own distribution under which a tenth, a half and nine tenths of the crossings of labelled days lay: it does
 * not count that some rises stall, and is wider than the truth (assumption, fitted).
 */
const INTERVAL_FROM = 0.26;
const MEDIAN_AT = 0.57;
const INTERVAL_TO = 0.795;

/** The same as ways ahead, for the memory of bends they were worked out for. */
let ways: WayAhead[] = [];
let waysFor = Number.NaN;

const crossed = new Float64Array(MILES.length);

/**
 * Miles from now to the limit, given that the bearing rises: median and the interval that holds 80 % of the crossings. Null when it
 * does not get there within the farthest distance with even odds. `share`: weight of the rising hypothesis, the sum of its cells.
 */
export function crossingOf(
  rise: Rise,
  share: number,
  limitExcessF: number,
  numbers: ModelNumbers,
): { miles: number; low: number; high: number } | null {
  if (waysFor !== numbers.bendMiles) {
    waysFor = numbers.bendMiles;
    ways = MILES.map((miles) => wayAhead(miles, waysFor));
  }
  crossed.fill(0);
  let counted = 0;
  for (let cell = 0; cell < rise.cells; cell++) {
    const weight = rise.logWeight[cell]!;
    if (weight < LEAST_SHARE * share) continue;
    counted += weight;
    for (let i = 0; i < MILES.length; i++) crossed[i] = crossed[i]! + weight * chanceOfGoingOn(rise, cell, ways[i]!, limitExcessF, numbers);
  }
  let highest = 0;
  for (let i = 0; i < MILES.length; i++) {
    highest = Math.max(highest, crossed[i]! / counted);
    crossed[i] = highest;
  }
  if (!(highest >= MEDIAN_AT)) return null;
  return { miles: milesAt(MEDIAN_AT), low: milesAt(INTERVAL_FROM), high: milesAt(INTERVAL_TO) };
}

/** Where the rising curve of `crossed` reaches a chance; the farthest distance when it does not. */
function milesAt(chance: number): number {
  if (crossed[0]! >= chance) return 0;
  for (let i = 1; i < MILES.length; i++) {
    if (crossed[i]! < chance) continue;
    const below = crossed[i - 1]!;
    return MILES[i - 1]! + ((MILES[i]! - MILES[i - 1]!) * (chance - below)) / (crossed[i]! - below);
  }
  return MILES[MILES.length - 1]!;
}
