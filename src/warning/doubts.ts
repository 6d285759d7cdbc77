import type { Leg } from "../journey/journey.ts";
import type { PassFlag } from "../pass/pass.ts";

/** What a flag of the pass means for one bearing's reading; flags that mean nothing for it are left out. */
const FLAG_WORDS: Partial<Record<PassFlag, string>> = {
  "timed-out": "the pass never ended and was closed after a wait",
  "missing-axles": "axles of this pass are missing, so an axle number may be off",
  "count-mismatch": "the site counted another number of axles than it sent",
  slow: "the train ran slowly over the site, which can change a reading",
  "stopped-over-site": "the train stopped over the site, which can change a reading",
  "reversed-over-site": "the train reversed over the site, so an axle may have been counted twice",
  power: "the site reports trouble with its power supply",
  "no-ambient": "the site sent no ambient temperature",
  "units-doubted": "the readings of the whole train suggest that the site's unit is declared wrongly",
};

/** Doubts that levelling has about a rail, in words. Those that repeat a flag of the pass use the flag's words. */
const RAIL_WORDS: Record<string, string> = {
  "no-readings": "no bearing of this side was measured",
  "readings-missing": "many readings of this side are missing",
  "scanner-flagged": "the site doubts its own scanner of this side",
  power: FLAG_WORDS.power!,
  "units-doubted": FLAG_WORDS["units-doubted"]!,
  "scanner-low": "the scanner of this side hardly sees the bearings",
  "scanner-flat": "the readings of this side are all but alike, as if the scanner saw little",
  "side-hot": "the whole side of the train reads hotter than the other side, as in the sun or with a sick scanner",
  "side-cold": "the whole side of the train reads colder than the other side",
};

/** All that is doubted about one rail of one leg, as clauses that begin with a small letter and have no full stop. */
export function doubtsOf(leg: Leg, rail: 0 | 1): string[] {
  const words = new Set<string>();
  for (const flag of leg.pass.flags) {
    const known = FLAG_WORDS[flag];
    if (known !== undefined) words.add(known);
  }
  if (leg.pass.flags.includes(rail === 0 ? "scanner-left" : "scanner-right")) words.add(RAIL_WORDS["scanner-flagged"]!);
  for (const doubt of leg.levels.doubts[rail]) words.add(RAIL_WORDS[doubt] ?? doubt.replaceAll("-", " "));
  if (leg.directionDoubted) words.add("the site reported the other direction of travel");
  for (const doubt of leg.join?.doubts ?? []) words.add(doubt);
  return [...words];
}
