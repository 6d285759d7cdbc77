import type { Pass } from "../pass/pass.ts";
import type { Alignment } from "./alignment.ts";
import type { OpenJourney } from "./open-journey.ts";

/** What one tag speaks for or against, and all of them at most, natural logarithms (assumptions). */
const TAG_AGREES_NATS = 5;
const TAG_DIFFERS_NATS = -3;
const MOST_TAG_NATS = 20;

/** A tag may be read at any axle of its vehicle, so it is looked for within a vehicle's length of axles. */
const TAG_REACH = 4;

/** How many of the tags read on a pass are those of the journey, and how many are others. */
export function compareTags(open: OpenJourney, pass: Pass, alignment: Alignment, flipped: boolean): { agree: number; differ: number } {
  const counts = { agree: 0, differ: 0 };
  if (pass.tags.size === 0 || open.roster.tags.size === 0) return counts;
  for (const [row, tag] of pass.tags) {
    const ordered = flipped ? pass.axles - 1 - row : row;
    const position = alignment.positionOfRow === null ? ordered : (alignment.positionOfRow[ordered] ?? -1);
    if (position < 0) continue;
    let differs = false;
    let agrees = false;
    for (let k = -TAG_REACH; k <= TAG_REACH && !agrees; k++) {
      const number = open.roster.axles[position + k];
      const known = number === undefined ? undefined : open.roster.tags.get(number);
      if (known === tag) agrees = true;
      else if (known !== undefined && k === 0) differs = true;
    }
    if (agrees) counts.agree++;
    else if (differs) counts.differ++;
  }
  return counts;
}

export function tagNats({ agree, differ }: { agree: number; differ: number }): number {
  return Math.max(-MOST_TAG_NATS, Math.min(MOST_TAG_NATS, TAG_AGREES_NATS * agree + TAG_DIFFERS_NATS * differ));
}
