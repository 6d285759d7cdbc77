import type { Outlook } from "../bearing/track.ts";
import type { Chances } from "./rule-set.ts";

/** The part of an outlook that the rules speak of. */
export type ChancesAhead = Pick<Outlook, "chanceNext" | "chanceNextButOne" | "rising">;

/** Any one of the three is enough. The weight of the gap ahead moves the two that speak of it. */
export function reaches(ahead: ChancesAhead, raise: Chances, weight: number): boolean {
  const { chanceNext, chanceNextButOne, rising } = ahead;
  const next = threshold(raise.beforeNextSite, weight);
  const nextButOne = threshold(raise.beforeNextButOne, weight);
  return chanceNext >= next || chanceNextButOne >= nextButOne || rising >= threshold(raise.rising, 1);
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
