import type { LineBook } from "../line/line-book.ts";
import { type Direction, opposite, type Railroad } from "../line/railroad.ts";
import type { Leg } from "./journey.ts";
import type { JoinSettings } from "./settings.ts";

/**
 * How a train could come from its last leg to a site:
 * `ahead` on its way; `back` over the site it was last heard at; `behind` over one before it, unheard at the last;
 * `begun-wrong`: the journey's first site reported the wrong direction, and the train went the other way from there.
 */
export type RouteKind = "ahead" | "back" | "behind" | "begun-wrong";

export interface Route {
  kind: RouteKind;
  site: string;
  /** Tracks it can arrive on; null: any. */
  tracks: readonly string[] | null;
  direction: Direction;
  miles: number;
  fastestHours: number;
  longestHours: number;
  /** Sites passed unheard. */
  over: readonly string[];
  /** Only one track all the way as far as can be told: trains keep their order. */
  single: boolean;
}

/** A train that turns back is taken to have gone this far past the site where nothing is known of the line ahead, miles (assumption). */
const TURN_MILES = 2;
/** Turning takes at least this long after the tail has passed, hours (assumption: stop, run around or reverse, 6 minutes). */
const TURN_HOURS = 0.1;
/** No travel is longer, hours: a train unheard for so long has ended its journey. */
export const LONGEST_HOURS = 10;

/** Routes by the site they lead to. */
export type RoutesBySite = ReadonlyMap<string, readonly Route[]>;

/**
 * The routes of one state of the railroad, each found once: there are as many as tracks past sites. From a site that this
 * state does not have (any more) they are those of the time when the train passed it.
 */
export class RouteBook {
  private readonly lines: LineBook;
  private readonly railroad: Railroad;
  private readonly settings: JoinSettings;
  private readonly known = new Map<string, RoutesBySite>();

  constructor(lines: LineBook, railroad: Railroad, settings: JoinSettings) {
    this.lines = lines;
    this.railroad = railroad;
    this.settings = settings;
  }

  from(leg: Leg, onlyLeg: boolean): RoutesBySite {
    const { site, track, endedMs } = leg.pass;
    const isHere = this.railroad.sites.get(site)?.tracks.some(({ id }) => id === track) === true;
    const railroad = isHere ? this.railroad : this.lines.of(site, endedMs);
    const key = `${site}/${track}/${leg.direction}/${onlyLeg}${isHere ? "" : `/${railroad.fromMs}`}`;
    let routes = this.known.get(key);
    if (routes === undefined) {
      routes = bySite(routesFrom(railroad, leg, onlyLeg, this.settings));
      this.known.set(key, routes);
    }
    return routes;
  }
}

function bySite(routes: readonly Route[]): RoutesBySite {
  const sorted = new Map<string, Route[]>();
  for (const route of routes) {
    const there = sorted.get(route.site);
    if (there === undefined) sorted.set(route.site, [route]);
    else there.push(route);
  }
  return sorted;
}

/** Every route from a leg; `onlyLeg`: the journey has no other, so nothing yet speaks for the direction its site gave. */
function routesFrom(railroad: Railroad, leg: Leg, onlyLeg: boolean, settings: JoinSettings): Route[] {
  const { site, track } = leg.pass;
  const routes: Route[] = [];
  const ahead = railroad.ahead(site, track, leg.direction, settings.hops);
  const onlyTrack = railroad.sites.get(site)?.tracks.length === 1;
  for (const way of ahead) {
    const single = onlyTrack && railroad.sites.get(way.site)?.tracks.length === 1;
    routes.push({
      ...timed(way.miles, way.fastestHours, settings),
      ...placed("ahead", way.site, way.tracks, way.direction, way.over),
      single,
    });
  }
  const behind = railroad.ahead(site, track, opposite(leg.direction), settings.hops);
  if (onlyLeg) {
    for (const way of behind) {
      const route = placed("begun-wrong", way.site, way.tracks, way.direction, way.over);
      routes.push({ ...timed(way.miles, way.fastestHours, settings), ...route, single: false });
    }
  }
  if (!settings.turnBack) return routes;
  // Half way to the next site and back again, unless the line ends before.
  const turnMiles = ahead[0]?.miles ?? TURN_MILES;
  const back = placed("back", site, null, opposite(leg.direction), []);
  routes.push({ ...timed(turnMiles, 0, settings), fastestHours: TURN_HOURS, ...back, single: false });
  for (const way of behind) {
    const route = placed("behind", way.site, way.tracks, way.direction, [site, ...way.over]);
    routes.push({ ...timed(turnMiles + way.miles, way.fastestHours + TURN_HOURS, settings), ...route, single: false });
  }
  return routes;
}

function placed(kind: RouteKind, site: string, tracks: readonly string[] | null, direction: Direction, over: readonly string[]) {
  return { kind, site, tracks, direction, over };
}

function timed(miles: number, fastestHours: number, settings: JoinSettings) {
  return { miles, fastestHours, longestHours: Math.min(LONGEST_HOURS, settings.holdHours + miles / settings.slowestMph) };
}
