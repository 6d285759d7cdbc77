import type { Corridor, Link, Railroad } from "../../line/railroad.ts";

/** A site's place in a band: miles along the links from the band's first site. */
export interface BandSite {
  site: string;
  miles: number;
}

/** A run of sites one after the other: the main line of a corridor, or a branch from the site it leaves it at. */
export interface Band {
  sites: BandSite[];
  miles: number;
  branchOf: string | null;
}

type Ways = Map<string, { to: string; miles: number }[]>;

/**
 * Lays a corridor out as bands: the longest run of linked sites first, then each branch with the site it begins at, so that
 * a train's line can be drawn over both. Distances are along the links (mileposts jump). Lead-in sites come with it.
 */
export function bandsOf(railroad: Railroad, corridor: Corridor): Band[] {
  const members = new Set([...corridor.sites, ...corridor.leadIn].filter((site) => railroad.sites.has(site)));
  const ways = waysWithin(members, railroad.links);
  const left = new Set(members);
  const bands: Band[] = [];
  while (left.size > 0) {
    const band = nextBranch(ways, left, members) ?? longestRun(ways, left);
    for (const { site } of band.sites) left.delete(site);
    bands.push(band);
  }
  return bands;
}

function waysWithin(members: ReadonlySet<string>, links: readonly Link[]): Ways {
  const ways: Ways = new Map();
  for (const site of members) ways.set(site, []);
  for (const { from, to, miles } of links) {
    if (!members.has(from) || !members.has(to)) continue;
    ways.get(from)?.push({ to, miles });
    ways.get(to)?.push({ to: from, miles });
  }
  return ways;
}

/** The longest run that leaves a laid-out site, if any of the rest hangs on one. */
function nextBranch(ways: Ways, left: ReadonlySet<string>, members: ReadonlySet<string>): Band | null {
  let best: BandSite[] | null = null;
  for (const site of members) {
    if (left.has(site) || !ways.get(site)?.some(({ to }) => left.has(to))) continue;
    const run = farthest(ways, site, left);
    if (best === null || milesOf(run) > milesOf(best)) best = run;
  }
  return best === null ? null : { sites: best, miles: milesOf(best), branchOf: best[0]?.site ?? null };
}

/** The two ends of the longest way through what hangs together with the first site left: go to the farthest, twice. */
function longestRun(ways: Ways, left: ReadonlySet<string>): Band {
  const [first] = left;
  const end = farthest(ways, first as string, left).at(-1) as BandSite;
  const run = farthest(ways, end.site, left);
  const miles = milesOf(run);
  const sites = isTurned(run, [...left]) ? run.map(({ site, miles: at }) => ({ site, miles: miles - at })).reverse() : run;
  return { sites, miles, branchOf: null };
}

/** Against the order of the corridor's list. Lead-in sites stand last there wherever they lie, so the first two of the list decide. */
function isTurned(run: readonly BandSite[], list: readonly string[]): boolean {
  const places = new Map(run.map(({ site }, index) => [site, index]));
  const [one, other] = list.filter((site) => places.has(site));
  return one !== undefined && other !== undefined && (places.get(one) ?? 0) > (places.get(other) ?? 0);
}

/** Shortest way from `start` to the site farthest from it, over sites of `within`. Plain Dijkstra: a corridor is small. */
function farthest(ways: Ways, start: string, within: ReadonlySet<string>): BandSite[] {
  const miles = new Map([[start, 0]]);
  const before = new Map<string, string>();
  const open = new Set([start]);
  let last = start;
  while (open.size > 0) {
    const at = nearest(open, miles);
    open.delete(at);
    last = at;
    for (const { to, miles: along } of ways.get(at) ?? []) {
      const reached = (miles.get(at) ?? 0) + along;
      if (!within.has(to) || to === start || reached >= (miles.get(to) ?? Number.POSITIVE_INFINITY)) continue;
      miles.set(to, reached);
      before.set(to, at);
      open.add(to);
    }
  }
  const run: BandSite[] = [];
  for (let site: string | undefined = last; site !== undefined; site = before.get(site)) run.push({ site, miles: miles.get(site) ?? 0 });
  return run.reverse();
}

function nearest(open: ReadonlySet<string>, miles: ReadonlyMap<string, number>): string {
  let best: string | null = null;
  for (const site of open) if (best === null || (miles.get(site) ?? 0) < (miles.get(best) ?? 0)) best = site;
  return best as string;
}

function milesOf(run: readonly BandSite[]): number {
  return run.at(-1)?.miles ?? 0;
}
