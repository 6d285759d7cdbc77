import type { Level } from "../warning/warning.ts";
import { type Day, highestLevel, milesOf, type Reached, type WarningStory, warnedBefore } from "./day.ts";
import { BearingIndex } from "./same-bearing.ts";

/** One side of a comparison: what the day came to under one rule set. */
export interface Run {
  /** What to call it: the rules path as given, or an id. */
  name: string;
  day: Day;
}

/** Where and when a bearing was first to be acted upon (`warn` or `limit`) under one rule set. */
export interface Act {
  id: string;
  level: "warn" | "limit";
  time: string;
  site: string;
  pass: string;
  miles: number;
  riseF: number | null;
  ending: WarningStory["ending"];
}

/** One bearing over which the two rule sets can be compared; null: no act under that one. */
export interface ComparedBearing {
  train: string | null;
  journey: string;
  place: string;
  a: Act | null;
  b: Act | null;
  /** Miles by which B acts after A; negative when B is earlier; null unless both act. */
  laterInBMiles: number | null;
  /** The site's hard limit was reached, under whichever rule set says so. */
  reachedLimit: boolean;
  /** Under which of them: their limits may differ. */
  limitReachedUnder: "A" | "B" | "both" | "neither";
}

/** What a rule set costs: every act asks for a stop or a set-out. Several bearings of one train at one pass are one stop. */
export interface Cost {
  passes: number;
  byLevel: Record<Level, number>;
  acts: number;
  stops: number;
  stopsPer1000Passes: number | null;
  cameToNothing: number;
  cameToNothingPer1000Passes: number | null;
  limitWithoutEarlierWarn: number;
}

export interface Comparison {
  type: "replay-comparison";
  version: 1;
  railroad: { id: string; name: string; demonstration: boolean };
  a: { name: string; rules: string[]; cost: Cost };
  b: { name: string; rules: string[]; cost: Cost };
  onlyA: ComparedBearing[];
  onlyB: ComparedBearing[];
  earlierInA: ComparedBearing[];
  earlierInB: ComparedBearing[];
  same: ComparedBearing[];
  /** Bearings that were watched and no more under that rule set, and not at all under the other. */
  watchedOnlyA: number;
  watchedOnlyB: number;
}

/** Miles on the grid of 0.01: anything under half a step is the same place. */
const SAME_MILES = 0.005;

/**
 * The same day under two rule sets. Bearings are matched by what was read of them, not by warning or roster numbers: the
 * same passes and axles with the same readings. Pure and deterministic; swapping the runs swaps the answer.
 */
export function compareDays(a: Run, b: Run): Comparison {
  const storiesA = a.day.warnings.filter(counts);
  const storiesB = b.day.warnings.filter(counts);
  const { pairs, restA, restB } = matchBearings(storiesA, storiesB);
  const bearings = [
    ...pairs.map(([storyA, storyB]) => comparedBearing(storyA, storyB)),
    ...restA.map((story) => comparedBearing(story, null)),
    ...restB.map((story) => comparedBearing(null, story)),
  ].sort(compareBearings);
  const both = bearings.filter((bearing) => bearing.a !== null && bearing.b !== null);
  const { id, name, demonstration } = a.day.railroad;
  return {
    type: "replay-comparison",
    version: 1,
    railroad: { id, name, demonstration },
    a: { name: a.name, rules: a.day.rules, cost: costOf(a.day, storiesA) },
    b: { name: b.name, rules: b.day.rules, cost: costOf(b.day, storiesB) },
    onlyA: bearings.filter((bearing) => bearing.a !== null && bearing.b === null),
    onlyB: bearings.filter((bearing) => bearing.a === null && bearing.b !== null),
    earlierInA: both.filter((bearing) => (bearing.laterInBMiles ?? 0) >= SAME_MILES),
    earlierInB: both.filter((bearing) => (bearing.laterInBMiles ?? 0) <= -SAME_MILES),
    same: both.filter((bearing) => Math.abs(bearing.laterInBMiles ?? 0) < SAME_MILES),
    watchedOnlyA: restA.filter((story) => actOf(story) === null).length,
    watchedOnlyB: restB.filter((story) => actOf(story) === null).length,
  };
}

/** Withdrawn warnings are not compared: a late pass put another in their place. */
function counts(story: WarningStory): boolean {
  return story.ending !== "withdrawn";
}

interface Matching {
  pairs: [WarningStory, WarningStory][];
  restA: WarningStory[];
  restB: WarningStory[];
}

function matchBearings(a: readonly WarningStory[], b: readonly WarningStory[]): Matching {
  const index = new BearingIndex(b);
  const taken = new Set<WarningStory>();
  const pairs: [WarningStory, WarningStory][] = [];
  const restA: WarningStory[] = [];
  for (const story of a) {
    const mate = index.matches(story).find((candidate) => !taken.has(candidate));
    if (mate === undefined) {
      restA.push(story);
      continue;
    }
    taken.add(mate);
    pairs.push([story, mate]);
  }
  return { pairs, restA, restB: b.filter((story) => !taken.has(story)) };
}

function comparedBearing(a: WarningStory | null, b: WarningStory | null): ComparedBearing {
  const { last } = (a ?? b) as WarningStory;
  const actA = a === null ? null : actOf(a);
  const actB = b === null ? null : actOf(b);
  return {
    train: last.train,
    journey: last.journey,
    place: last.place,
    a: actA,
    b: actB,
    laterInBMiles: actA === null || actB === null ? null : Math.round((actB.miles - actA.miles) * 100) / 100,
    reachedLimit: (a?.limit ?? b?.limit ?? null) !== null,
    limitReachedUnder: underWhich((a?.limit ?? null) !== null, (b?.limit ?? null) !== null),
  };
}

function underWhich(inA: boolean, inB: boolean): ComparedBearing["limitReachedUnder"] {
  if (inA && inB) return "both";
  return inA ? "A" : inB ? "B" : "neither";
}

/** The first reach of `warn` or `limit`, whichever came first. */
function actOf(story: WarningStory): Act | null {
  const { warn, limit } = story;
  const first: Reached | null = warn === null || (limit !== null && limit.timeMs < warn.timeMs) ? limit : warn;
  if (first === null || first.level === "watch") return null;
  return {
    id: story.last.id,
    level: first.level,
    time: new Date(first.timeMs).toISOString(),
    site: first.site,
    pass: first.pass,
    miles: milesOf(story, first),
    riseF: first.riseF,
    ending: story.ending,
  };
}

function costOf(day: Day, stories: readonly WarningStory[]): Cost {
  const byLevel: Record<Level, number> = { limit: 0, warn: 0, watch: 0 };
  const stops = new Set<string>();
  let cameToNothing = 0;
  let limitWithoutEarlierWarn = 0;
  for (const story of stories) {
    byLevel[highestLevel(story)]++;
    const act = actOf(story);
    if (act === null) continue;
    stops.add(act.pass);
    if (story.ending === "came-to-nothing") cameToNothing++;
    if (story.limit !== null && !warnedBefore(story)) limitWithoutEarlierWarn++;
  }
  const passes = day.passes.count;
  const per1000 = (count: number) => (passes === 0 ? null : Math.round((count / passes) * 100_000) / 100);
  return {
    passes,
    byLevel,
    acts: byLevel.limit + byLevel.warn,
    stops: stops.size,
    stopsPer1000Passes: per1000(stops.size),
    cameToNothing,
    cameToNothingPer1000Passes: per1000(cameToNothing),
    limitWithoutEarlierWarn,
  };
}

/** By the first act under either, so that the order does not depend on which rule set is called A. */
function compareBearings(a: ComparedBearing, b: ComparedBearing): number {
  const [timeA, timeB] = [firstTime(a), firstTime(b)];
  return timeA < timeB ? -1 : timeA > timeB ? 1 : key(a) < key(b) ? -1 : key(a) > key(b) ? 1 : 0;
}

function firstTime({ a, b }: ComparedBearing): string {
  const times = [a, b].flatMap((act) => (act === null ? [] : [act.time]));
  return times.sort()[0] ?? "";
}

function key(bearing: ComparedBearing): string {
  return `${bearing.journey} ${bearing.place}`;
}
