import { type Journey, type Leg, railOfSide } from "../journey/journey.ts";
import { lineBookOf } from "../line/line-book.ts";
import type { Railroad } from "../line/railroad.ts";
import type { PassFlag } from "../pass/pass.ts";
import { FEWEST_AXLES, LONGEST_WAY_HOURS } from "./watch-numbers.ts";

/** How the readings of one rail of one pass stand against the same side of the same train at two other sites. */
export interface RailComparison {
  /** Learned bias of the scanner when the pass was levelled. */
  biasF: number;
  /** Middle of the side as the scanner sent it, and the lower of what the others lead to expect; °F above ambient. */
  measuredF: number;
  expectedF: number;
  /** By how much this rail alone is off: both against the others and against the other rail. */
  aloneF: number;
  /** Logarithm of its spread against the others' (the smaller difference of the two). */
  spread: number;
}

export interface Comparison {
  leg: Leg;
  rails: [RailComparison, RailComparison];
  /** Whether the two sites compared with lie on either side of it. */
  isBetween: boolean;
  /** By how much both rails are off alike; NaN where the train was only warming up or the sites are on one side. */
  bothF: number;
}

const HOUR_MS = 3_600_000;

/** What makes the readings of a pass a bad measure of its scanners. */
const NOT_COMPARED: readonly PassFlag[] = ["slow", "stopped-over-site", "reversed-over-site", "power", "no-ambient", "units-doubted"];

/**
 * What a newly settled leg lets compare: the leg before it, which now has a neighbour on both sides; the journey's first leg
 * once there are two after it; and the leg itself at the end of the line. Two others must agree before a scanner is off: with
 * one, nobody could say which of the two it is.
 */
export function comparisons(railroad: Railroad, journey: Journey, leg: Leg, isWell: (leg: Leg, rail: 0 | 1) => boolean): Comparison[] {
  const { legs } = journey;
  const at = legs.indexOf(leg);
  const found: (Comparison | null)[] = [];
  if (at >= 2) found.push(compare(legs[at - 1]!, legs[at - 2]!, leg, true, isWell));
  if (at === 2) found.push(compare(legs[0]!, legs[1]!, leg, false, isWell));
  const isLast = at >= 2 && isEndOfLine(railroad, leg);
  if (isLast) found.push(compare(leg, legs[at - 1]!, legs[at - 2]!, false, isWell));
  return found.filter((one): one is Comparison => one !== null);
}

function isEndOfLine(railroad: Railroad, { pass, direction }: Leg): boolean {
  const state = lineBookOf(railroad).of(pass.site, pass.endedMs);
  return state.ahead(pass.site, pass.track, direction, 1).length === 0;
}

function compare(leg: Leg, one: Leg, two: Leg, isBetween: boolean, isWell: (leg: Leg, rail: 0 | 1) => boolean): Comparison | null {
  if (!isMeasure(leg) || !isReference(leg, one, isWell) || !isReference(leg, two, isWell)) return null;
  const off: [number[], number[]] = [[], []];
  const spreads: [number[], number[]] = [[], []];
  const expected: [number[], number[]] = [[], []];
  for (const other of [one, two]) {
    for (const side of [0, 1] as const) {
      const here = railOfSide(leg, side);
      const there = railOfSide(other, side);
      off[here].push(rawF(leg, here) - other.levels.medianF[there]);
      expected[here].push(other.levels.medianF[there]);
      spreads[here].push(Math.log(leg.levels.spreadF[here] / other.levels.spreadF[there]));
    }
  }
  const rail = (own: 0 | 1): RailComparison => {
    const other = (1 - own) as 0 | 1;
    const sides = off[own].map((value, k) => value - off[other][k]!);
    const measuredF = rawF(leg, own);
    // A train that has just set out is cold at its first site, on both sides alike: then the other rail says what to expect.
    return {
      biasF: leg.levels.biasF[own],
      measuredF,
      expectedF: Math.min(...expected[own], isBetween ? Number.POSITIVE_INFINITY : rawF(leg, other)),
      aloneF: agreed([...off[own], ...sides]),
      spread: agreed(spreads[own]),
    };
  };
  return { leg, isBetween, rails: [rail(0), rail(1)], bothF: isBetween ? agreed([...off[0], ...off[1]]) : Number.NaN };
}

function isMeasure({ pass, levels }: Leg): boolean {
  return (
    Math.max(pass.axles, levels.excessF[0].length) >= FEWEST_AXLES &&
    Number.isFinite(levels.medianF[0]) &&
    Number.isFinite(levels.medianF[1]) &&
    // A rail that sent nothing has the middle of its side by guess.
    !levels.doubts.some((words) => words.includes("no-readings")) &&
    !pass.flags.some((flag) => NOT_COMPARED.includes(flag))
  );
}

function isReference(leg: Leg, other: Leg, isWell: (leg: Leg, rail: 0 | 1) => boolean): boolean {
  const apartMs = leg.pass.endedMs < other.pass.endedMs ? other.pass.begunMs - leg.pass.endedMs : leg.pass.begunMs - other.pass.endedMs;
  const { medianF } = other.levels;
  return (
    other.pass.site !== leg.pass.site &&
    apartMs <= LONGEST_WAY_HOURS * HOUR_MS &&
    Number.isFinite(medianF[0]) &&
    Number.isFinite(medianF[1]) &&
    !other.pass.flags.some((flag) => NOT_COMPARED.includes(flag)) &&
    isWell(other, 0) &&
    isWell(other, 1)
  );
}

/** Middle of the side as the scanner sent it: with its learned bias put back. */
function rawF({ levels }: Leg, rail: 0 | 1): number {
  return levels.medianF[rail] + levels.biasF[rail];
}

/** What several differences agree on: the smallest of them, 0 where they have not one sign. */
function agreed(values: readonly number[]): number {
  const sign = Math.sign(values[0]!);
  let least = Number.POSITIVE_INFINITY;
  for (const value of values) {
    if (Math.sign(value) !== sign) return 0;
    least = Math.min(least, Math.abs(value));
  }
  return sign * least;
}
