import type { Journey, Leg } from "../journey/journey.ts";
import { lineBookOf } from "../line/line-book.ts";
import type { Railroad } from "../line/railroad.ts";

/** Sites that a train ran over unheard between the leg before and this one; none when it turned back or the way is not known. */
export function overSites(railroad: Railroad, journey: Journey, leg: Leg): readonly string[] {
  const at = journey.legs.indexOf(leg);
  const before = journey.legs[at - 1];
  if (leg.join === null || before === undefined) return [];
  const { site, track } = before.pass;
  const hops = LONGEST_WAY_HOPS;
  const way = lineBookOf(railroad)
    .of(leg.pass.site, leg.pass.endedMs)
    .ahead(site, track, before.direction, hops)
    .find((one) => one.site === leg.pass.site && one.direction === leg.direction);
  return way?.over ?? [];
}

/** As far as a train is joined over unheard sites. */
const LONGEST_WAY_HOPS = 3;
