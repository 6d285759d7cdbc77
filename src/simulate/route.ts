import { type Direction, type Link, opposite, type Railroad } from "../line/railroad.ts";

/** One site on a train's way, and the link that leads to it from the site before. */
export interface Stop {
  site: string;
  direction: Direction;
  link: Link | null;
  /** Runs the link from its `from` to its `to`. */
  forward: boolean;
  miles: number;
}

/** More ways than this through a railroad are not listed. */
const MOST_ROUTES = 256;
const MOST_STOPS = 500;

/** Where a train can go on to after passing a site in a direction. */
export function onward(railroad: Railroad, site: string, direction: Direction): Stop[] {
  const stops: Stop[] = [];
  for (const link of railroad.links) {
    if (link.from === site && link.leaves === direction) {
      stops.push({ site: link.to, direction: link.arrives, link, forward: true, miles: link.miles });
    }
    if (link.to === site && link.arrives === opposite(direction)) {
      stops.push({ site: link.from, direction: opposite(link.leaves), link, forward: false, miles: link.miles });
    }
  }
  return stops;
}

/** All ways from one end of the railroad to another. Throws SIM-003 when it has no ends. */
export function routesOf(railroad: Railroad): Stop[][] {
  const routes: Stop[][] = [];
  for (const site of railroad.sites.keys()) {
    for (const direction of ["rising", "falling"] as const) {
      const isEnd = onward(railroad, site, opposite(direction)).length === 0;
      if (isEnd) extend(railroad, [{ site, direction, link: null, forward: true, miles: 0 }], routes);
    }
  }
  if (routes.length === 0) throw new RangeError("SIM-003 the line has no end from which a train could start");
  return routes;
}

function extend(railroad: Railroad, route: Stop[], routes: Stop[][]): void {
  const last = route[route.length - 1] as Stop;
  const next = onward(railroad, last.site, last.direction).filter((stop) => !route.some((seen) => seen.site === stop.site));
  if (next.length === 0 || route.length >= MOST_STOPS) {
    if (route.length > 1 && routes.length < MOST_ROUTES) routes.push(route);
    return;
  }
  for (const stop of next) extend(railroad, [...route, stop], routes);
}

/** The way back: same sites, other direction. Its first stop is the last site again, after the turn. */
export function wayBack(route: Stop[], turnMiles: number): Stop[] {
  const back: Stop[] = [];
  for (let at = route.length - 1; at >= 0; at--) {
    const stop = route[at] as Stop;
    const came = route[at + 1];
    back.push({
      site: stop.site,
      direction: opposite(stop.direction),
      link: came?.link ?? null,
      forward: came === undefined ? true : !came.forward,
      miles: came?.miles ?? turnMiles,
    });
  }
  return back;
}

/** Part of a route between two of its sites; null when it does not lead from one to the other. */
export function between(route: Stop[], from: string, to: string): Stop[] | null {
  const first = route.findIndex((stop) => stop.site === from);
  const last = route.findIndex((stop) => stop.site === to);
  if (first < 0 || last <= first) return null;
  return route.slice(first, last + 1).map((stop, index) => (index === 0 ? { ...stop, link: null, miles: 0 } : stop));
}

export function milesOf(route: readonly Stop[]): number {
  return route.reduce((sum, stop, index) => sum + (index === 0 ? 0 : stop.miles), 0);
}
