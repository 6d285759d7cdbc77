import type { Railroad, Way } from "../line/railroad.ts";
import { rounded } from "./words.ts";

/** Mileposts and miles along the link agree this well where a milepost may be told in between: 3 % and a tenth. Assumption. */
const MILEPOST_SHARE = 0.03;
const MILEPOST_SLACK = 0.1;

interface Anchor {
  miles: number;
  milepost: number;
}

/**
 * The milepost `miles` ahead of a site, where it can be told: one way ahead only, before the next site, both sites of one
 * line, and mileposts that run with the distance between the two known places around it (mileposts jump). Else null.
 */
export function milepostAhead(
  railroad: Railroad,
  site: string,
  ways: readonly Way[],
  miles: number,
): { milepost: number; line: string } | null {
  const next = ways.filter((way) => way.over.length === 0);
  const from = railroad.sites.get(site);
  const to = next.length === 1 ? railroad.sites.get(next[0]!.site) : undefined;
  if (from === undefined || to === undefined || from.line !== to.line || miles > next[0]!.miles) return null;
  const anchors: Anchor[] = [{ miles: 0, milepost: from.milepost }];
  for (const { setOut, miles } of next[0]!.setOuts) anchors.push({ miles, milepost: setOut.milepost });
  anchors.push({ miles: next[0]!.miles, milepost: to.milepost });
  const after = anchors.findIndex((anchor, i) => i > 0 && anchor.miles >= miles);
  const milepost = between(anchors[after - 1]!, anchors[after]!, miles);
  return milepost === null ? null : { milepost: rounded(milepost, 2), line: from.line };
}

function between(a: Anchor, b: Anchor, miles: number): number | null {
  const run = b.miles - a.miles;
  const posts = b.milepost - a.milepost;
  if (Math.abs(Math.abs(posts) - run) > MILEPOST_SHARE * run + MILEPOST_SLACK) return null;
  return run === 0 ? a.milepost : a.milepost + (posts * (miles - a.miles)) / run;
}
