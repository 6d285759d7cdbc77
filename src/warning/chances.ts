import type { Outlook } from "../bearing/track.ts";
import type { Chances, FartherChances } from "./rule-set.ts";

/** The part of an outlook that the rules speak of. `within`: before the distance of the railroad's own; absent where it set none. */
export interface ChancesAhead {
  chanceNext: number;
  chanceNextButOne: number;
  within?: number;
  rising: number;
}

/**
 * What a `warn` goes by: the chances that a bearing has by rising. One that has been warm all day can be near its limit as well; it is
 * watched, and the limit itself is told of, but it is not on its way to failing.
 */
export function onItsWay({ chanceNext, chanceNextButOne, rising, onItsWay }: Outlook): ChancesAhead {
  if (onItsWay === undefined) return { chanceNext, chanceNextButOne, rising };
  return { chanceNext: onItsWay.next, chanceNextButOne: onItsWay.nextButOne, within: onItsWay.within, rising };
}

/** Any one of them is enough. The weight of the gap ahead moves the two that speak of it, and what counts on top for being near. */
export function reaches(ahead: ChancesAhead, raise: FartherChances, weight: number): boolean {
  const { chanceNext, chanceNextButOne, rising } = ahead;
  const next = threshold(raise.beforeNextSite, weight);
  const nextButOne = threshold(raise.beforeNextButOne, weight);
  const farther = raise.within === undefined ? Number.POSITIVE_INFINITY : threshold(raise.within.chance, 1);
  return (
    chanceNext >= next ||
    chanceNextButOne >= nextButOne ||
    weighedWithin(ahead, raise, weight) >= farther ||
    rising >= threshold(raise.rising, 1)
  );
}

/**
 * What is held against the chance `within` the rules' distance: that chance, and on top the share `soon` of the one before the next
 * site but one, times the weight of the gap. Of two bearings that are as likely to get there, the one that is there sooner is
 * warned of first: for the other there is time to see more. 0 where nothing is known of that distance.
 */
export function weighedWithin({ chanceNextButOne, within }: ChancesAhead, raise: FartherChances, weight: number): number {
  if (within === undefined) return 0;
  return within + (raise.within?.soon ?? 0) * weight * chanceNextButOne;
}

/** Chance from which a level is given before a gap of this weight; a rule of 1 is switched off, so no chance reaches it. */
export function threshold(chance: number, weight: number): number {
  return chance >= 1 ? Number.POSITIVE_INFINITY : Math.min(1, chance / weight);
}

/** All three are under those that lower the level; without an outlook nothing is known to be low. */
export function isLow(outlook: Outlook | null, lower: Chances): boolean {
  if (outlook === null) return false;
  const { chanceNext, chanceNextButOne, rising } = outlook;
  return chanceNext < lower.beforeNextSite && chanceNextButOne < lower.beforeNextButOne && rising < lower.rising;
}
