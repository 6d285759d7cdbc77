import { type Direction, type Link, opposite, type SetOut, type Site, type Way } from "./railroad.ts";

/** Ways are looked up to this many links on. */
export const MAX_HOPS = 4;

/** Distances are added as whole millionths of a mile, so that they do not depend on the order of adding. */
const PARTS_PER_MILE = 1_000_000;

/** A link as one of its two directions is run. */
interface Leg {
  to: string;
  leaves: Direction;
  arrives: Direction;
  parts: number;
  hours: number;
  tracks: [string, string][];
  /** With the tracks of the departing site whose trains can get in. */
  setOuts: { setOut: SetOut; parts: number; tracks: string[] }[];
}

/** What has been run so far on a way. */
interface Run {
  site: string;
  direction: Direction;
  tracks: string[];
  parts: number;
  hours: number;
  over: string[];
  setOuts: { setOut: SetOut; parts: number }[];
}

const NOWHERE: readonly Way[] = Object.freeze([]);

/**
 * The `ahead` of a railroad: each answer is worked out once and is the same frozen array from then on. Memory is bounded
 * by sites x tracks x 2 directions x MAX_HOPS. A site or track that is not known has nothing ahead. Throws a RangeError
 * for hops outside 1 to MAX_HOPS: that is a fault of the program, never of the data.
 */
export function reachOf(
  sites: ReadonlyMap<string, Site>,
  links: readonly Link[],
): (site: string, track: string, direction: Direction, hops: number) => Way[] {
  const legs = legsOf(links);
  const known = new Map<string, Map<string, Way[][]>>();
  for (const site of sites.values()) known.set(site.id, new Map(site.tracks.map((track) => [track.id, []])));

  return (site, track, direction, hops) => {
    if (!Number.isInteger(hops) || hops < 1 || hops > MAX_HOPS) throw new RangeError(`hops is ${hops}; expected 1 to ${MAX_HOPS}`);
    const answers = known.get(site)?.get(track);
    if (answers === undefined) return NOWHERE as Way[];
    const index = (hops - 1) * 2 + (direction === "rising" ? 0 : 1);
    const answer = answers[index];
    if (answer !== undefined) return answer;
    const found = waysFrom(legs, site, track, direction, hops);
    answers[index] = found;
    return found;
  };
}

function legsOf(links: readonly Link[]): Map<string, Leg[]> {
  const legs = new Map<string, Leg[]>();
  const add = (site: string, leg: Leg) => legs.set(site, [...(legs.get(site) ?? []), leg]);
  for (const link of links) {
    add(link.from, forward(link));
    add(link.to, backward(link));
  }
  return legs;
}

function forward(link: Link): Leg {
  const setOuts = link.setOuts
    .filter((setOut) => setOut.forward)
    .map((setOut) => ({ setOut, parts: partsOf(setOut.miles), tracks: setOut.tracks }));
  const { to, leaves, arrives, tracks, miles, fastestMph } = link;
  return { to, leaves, arrives, parts: partsOf(miles), hours: miles / fastestMph, tracks, setOuts: setOuts.sort(bySetOutDistance) };
}

/** The same rails the other way: what was left last is reached first, in the opposite direction. */
function backward(link: Link): Leg {
  const parts = partsOf(link.miles);
  const setOuts = link.setOuts
    .filter((setOut) => setOut.backward)
    .map((setOut) => ({
      setOut,
      parts: parts - partsOf(setOut.miles),
      tracks: link.tracks.filter(([from]) => setOut.tracks.includes(from)).map(([, to]) => to),
    }));
  return {
    to: link.from,
    leaves: opposite(link.arrives),
    arrives: opposite(link.leaves),
    parts,
    hours: link.miles / link.fastestMph,
    tracks: link.tracks.map(([from, to]) => [to, from]),
    setOuts: setOuts.sort(bySetOutDistance),
  };
}

function waysFrom(legs: Map<string, Leg[]>, site: string, track: string, direction: Direction, hops: number): Way[] {
  const ways: Way[] = [];
  const begin: Run = { site, direction, tracks: [track], parts: 0, hours: 0, over: [], setOuts: [] };
  follow(legs, begin, site, hops, ways);
  ways.sort(nearestFirst);
  return Object.freeze(ways.map(freezeWay)) as Way[];
}

/** Depth first over the legs that leave in the train's direction; a way passes no site twice, but may come home to its first. */
function follow(legs: Map<string, Leg[]>, run: Run, start: string, hops: number, ways: Way[]): void {
  for (const leg of legs.get(run.site) ?? []) {
    if (leg.leaves !== run.direction || run.over.includes(leg.to)) continue;
    const tracks = reached(leg.tracks, run.tracks);
    if (tracks.length === 0) continue;
    const next: Run = {
      site: leg.to,
      direction: leg.arrives,
      tracks,
      parts: run.parts + leg.parts,
      hours: run.hours + leg.hours,
      over: run.site === start && run.parts === 0 ? [] : [...run.over, run.site],
      setOuts: [...run.setOuts, ...usable(leg, run)],
    };
    ways.push(wayOf(next));
    if (hops > 1 && leg.to !== start) follow(legs, next, start, hops - 1, ways);
  }
}

function usable(leg: Leg, run: Run): { setOut: SetOut; parts: number }[] {
  return leg.setOuts
    .filter((place) => place.tracks.some((track) => run.tracks.includes(track)))
    .map((place) => ({ setOut: place.setOut, parts: run.parts + place.parts }));
}

function reached(pairs: readonly [string, string][], from: readonly string[]): string[] {
  return [...new Set(pairs.filter((pair) => from.includes(pair[0])).map((pair) => pair[1]))].sort();
}

function wayOf(run: Run): Way {
  return {
    site: run.site,
    tracks: run.tracks,
    direction: run.direction,
    miles: run.parts / PARTS_PER_MILE,
    fastestHours: run.hours,
    over: run.over,
    setOuts: run.setOuts.map(({ setOut, parts }) => ({ setOut, miles: parts / PARTS_PER_MILE })),
  };
}

function freezeWay(way: Way): Way {
  for (const place of way.setOuts) Object.freeze(place);
  Object.freeze(way.setOuts);
  Object.freeze(way.tracks);
  Object.freeze(way.over);
  return Object.freeze(way);
}

/** Two ways of one length are told apart by where they lead and over what, so that the order never depends on the file's. */
function nearestFirst(a: Way, b: Way): number {
  return a.miles - b.miles || compareText(a.site, b.site) || compareText(a.over.join(" "), b.over.join(" "));
}

function bySetOutDistance(a: { parts: number; setOut: SetOut }, b: { parts: number; setOut: SetOut }): number {
  return a.parts - b.parts || compareText(a.setOut.id, b.setOut.id);
}

function compareText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}

function partsOf(miles: number): number {
  return Math.round(miles * PARTS_PER_MILE);
}
