import type { Way } from "../line/railroad.ts";
import type { ReachableSetOut } from "./ahead.ts";
import { HERE_MILES, milesWords } from "./words.ts";

/** Where to set the vehicle out, and what there is to say about it. */
export interface SetOutChoice {
  /** null: there is none in time, so the train stops. */
  chosen: ReachableSetOut | null;
  /** The first place ahead that the train can still stop at, in time or not: for a vehicle that was inspected and may move. */
  nearest: ReachableSetOut | null;
  words: string;
}

/**
 * The last place that the train reaches before `lowMiles` (the low end of the crossing, from the site passed) with
 * `stoppingMiles` to spare, and that it can still stop for: the bearing itself is `beyondMiles` past the site by now.
 * Several ways ahead: a place that all of them share comes first; else the nearest of theirs, and none as soon as
 * one way has none, for nobody here knows the train's route.
 */
export function chooseSetOut(
  ways: readonly Way[],
  lowMiles: number,
  stoppingMiles: number,
  beyondMiles: number,
  nameOf: (site: string) => string = (site) => site,
): SetOutChoice {
  const leaves = leafWays(ways);
  const firstMiles = beyondMiles + stoppingMiles;
  const lastMiles = lowMiles - stoppingMiles;
  const nearest = nearestOf(leaves.map((way) => way.setOuts.find((place) => place.miles >= firstMiles) ?? null));
  if (leaves.length === 0) return { chosen: null, nearest: null, words: "No way ahead is known, so no set-out place either." };

  const choices = leaves.map((way) => lastWithin(way, firstMiles, lastMiles));
  const shared = lastShared(leaves, firstMiles, lastMiles);
  if (choices.every((choice) => choice?.setOut.id === shared?.setOut.id))
    return { chosen: shared, nearest, words: plainWords(shared, lowMiles) };

  const perWay = leaves.map((way, i) => `towards ${nameOf(way.site)} ${choices[i] ? placed(choices[i]) : "there is none"}`).join("; ");
  const unsure = `The way ahead divides: as to the last set-out place in time, ${perWay}.`;
  const last = shared !== null || choices.includes(null) ? shared : nearestOf(choices);
  const taken = last === null ? "One way has none in time, so none is named." : `${placed(last)} is named as the safe choice.`;
  return { chosen: last, nearest, words: `${unsure} ${taken}` };
}

/** At the limit no place is in time; the first one ahead is for a vehicle that was inspected and may move. */
export function stopNow(ways: readonly Way[], stoppingMiles: number, beyondMiles: number): SetOutChoice {
  const { nearest } = chooseSetOut(ways, 0, stoppingMiles, beyondMiles);
  const words = nearest === null ? "none is known ahead" : `the first one ahead is ${placed(nearest)}`;
  return { chosen: null, nearest, words: `The limit was reached, so no set-out place is in time; ${words}.` };
}

/** The first place ahead, or how far there is none, for a text that says "First set-out place ahead: ...". */
export function firstAheadWords(nearest: ReachableSetOut | null, ways: readonly Way[]): string {
  if (nearest !== null) return placed(nearest);
  const leaves = leafWays(ways);
  if (leaves.length === 0) return "none is known";
  return `none in the next ${milesWords(Math.min(...leaves.map((way) => way.miles)))}`;
}

/** Ways that are not the beginning of another one: each is a full route as far as is looked. */
function leafWays(ways: readonly Way[]): Way[] {
  const begins = (way: Way, other: Way) => other.over[way.over.length] === way.site && way.over.every((site, i) => other.over[i] === site);
  return ways.filter((way) => !ways.some((other) => begins(way, other)));
}

function lastWithin(way: Way, firstMiles: number, lastMiles: number): ReachableSetOut | null {
  return way.setOuts.findLast((place) => place.miles >= firstMiles && place.miles <= lastMiles) ?? null;
}

/** The last place in time that lies on every way. */
function lastShared(ways: readonly Way[], firstMiles: number, lastMiles: number): ReachableSetOut | null {
  const onAll = (place: ReachableSetOut) => ways.every((way) => way.setOuts.some((other) => other.setOut.id === place.setOut.id));
  return ways[0]?.setOuts.findLast((place) => place.miles >= firstMiles && place.miles <= lastMiles && onAll(place)) ?? null;
}

function nearestOf(places: readonly (ReachableSetOut | null)[]): ReachableSetOut | null {
  let best: ReachableSetOut | null = null;
  for (const place of places) {
    if (place === null) continue;
    if (best === null || place.miles < best.miles || (place.miles === best.miles && place.setOut.id < best.setOut.id)) best = place;
  }
  return best;
}

function plainWords(place: ReachableSetOut | null, lowMiles: number): string {
  if (place !== null) return `The last set-out place in time is ${placed(place)}.`;
  if (lowMiles < HERE_MILES) return "No set-out place is in time: the limit may be reached at any moment.";
  return `No set-out place is in time: only the next ${milesWords(lowMiles)} are safe to count on.`;
}

function placed(place: ReachableSetOut): string {
  return `${place.setOut.name}, ${milesWords(place.miles)} on`;
}
