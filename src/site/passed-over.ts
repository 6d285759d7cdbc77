import type { Journey, Leg } from "../journey/journey.ts";
import { lineBookOf } from "../line/line-book.ts";
import { opposite, type Railroad } from "../line/railroad.ts";

/** A site that a train ran over unheard, and the tracks on which it can have done so. */
export interface PassedOver {
  site: string;
  tracks: string[];
}

/** As far as a train is joined over unheard sites. */
const LONGEST_WAY_HOPS = 3;

/** Sites that a train ran over unheard between the leg before and this one; none when it turned back, or when the way is not certain. */
export function passedOver(line: Railroad, journey: Journey, leg: Leg): PassedOver[] {
  const before = journey.legs[journey.legs.indexOf(leg) - 1];
  if (leg.join === null || before === undefined) return [];
  const railroad = lineBookOf(line).of(leg.pass.site, leg.pass.endedMs);
  const ahead = railroad.ahead(before.pass.site, before.pass.track, before.direction, LONGEST_WAY_HOPS);
  const ways = ahead.filter((one) => one.site === leg.pass.site && one.direction === leg.direction && one.tracks.includes(leg.pass.track));
  if (ways.length !== 1) return [];
  const behind = railroad.ahead(leg.pass.site, leg.pass.track, opposite(leg.direction), LONGEST_WAY_HOPS);
  return ways[0]!.over.map((site) => {
    const there = ahead.find((one) => one.site === site)?.tracks ?? [];
    const back = behind.find((one) => one.site === site)?.tracks ?? there;
    return { site, tracks: there.filter((track) => back.includes(track)) };
  });
}
