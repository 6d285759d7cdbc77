import type { Level } from "../warning/warning.ts";
import { rounded } from "../warning/words.ts";
import { endingOf, highestLevel, type Reached, readingsOf, type WarningStory } from "./day.ts";
import { BearingIndex } from "./same-bearing.ts";
import { msOf } from "./words.ts";

/**
 * Each corridor publishes for the sites it owns, so a bearing that was warned of in one and reached the limit in the next
 * has a warning in each. To an engineer they are one story: they are told as one, with the evidence of both.
 */
export function joinOverCorridors(stories: readonly WarningStory[]): WarningStory[] {
  const standing = stories.filter((story) => story.ending !== "withdrawn");
  const index = new BearingIndex(standing);
  const told = new Set<WarningStory>();
  const joined: WarningStory[] = [];
  for (const story of stories) {
    if (told.has(story)) continue;
    const parts = story.ending === "withdrawn" ? [story] : partsOf(story, index, told);
    for (const part of parts) told.add(part);
    parts.sort((a, b) => (a.last.time < b.last.time ? -1 : a.last.time > b.last.time ? 1 : 0));
    joined.push(parts.reduce(joinTwo));
  }
  return joined;
}

/** In order of event time of the highest level's first reach, then id. */
export function inOrderOfReach(a: WarningStory, b: WarningStory): number {
  return reachedMs(a) - reachedMs(b) || (a.last.id < b.last.id ? -1 : 1);
}

function reachedMs(story: WarningStory): number {
  return (story.limit ?? story.warn ?? story.watch)?.timeMs ?? msOf(story.last.time);
}

/** The story and those of the corridors the train came to, one after the other; at most one a corridor. */
function partsOf(story: WarningStory, index: BearingIndex, told: ReadonlySet<WarningStory>): WarningStory[] {
  const parts = [story];
  const corridors = new Set([story.last.corridor]);
  // A list that grows while it is walked: a third corridor shares no reading with the first.
  for (const part of parts) {
    for (const other of index.matches(part)) {
      if (told.has(other) || corridors.has(other.last.corridor)) continue;
      corridors.add(other.last.corridor);
      parts.push(other);
    }
  }
  return parts;
}

/** `after` has the last word; miles count from where the journey of `before` began. */
function joinTwo(before: WarningStory, after: WarningStory): WarningStory {
  const shift = milesBetween(before, after);
  const moved = <T extends { miles: number }>(at: T): T => ({ ...at, miles: rounded(at.miles + shift, 2) });
  const own = after.last.evidence.map(moved);
  const evidence = [...without(before.last.evidence, own), ...own].sort((a, b) => a.miles - b.miles);
  const later = without(after.later.map(moved), evidence);
  const earlier = (level: "watch" | "warn" | "limit"): Reached | null => {
    const [mine, theirs] = [before[level], after[level]];
    if (theirs === null || (mine !== null && mine.timeMs <= theirs.timeMs)) return mine;
    return moved(theirs);
  };
  const story = {
    last: { ...after.last, evidence },
    also: [...new Set([...before.also, before.last.id, ...after.also])].filter((id) => id !== after.last.id),
    versions: before.versions + after.versions,
    corrections: before.corrections + after.corrections,
    watch: earlier("watch"),
    warn: earlier("warn"),
    limit: earlier("limit"),
    told: RANK[highestLevel(after)] > RANK[highestLevel(before)] ? after.told : before.told,
    asWarned: before.asWarned ?? after.asWarned,
    later: [...later, ...without(without(before.later, evidence), later)].sort((a, b) => a.miles - b.miles),
  };
  return { ...story, ending: endingOf(story) };
}

const RANK: Record<Level, number> = { watch: 0, warn: 1, limit: 2 };

/** How much farther the train had come, at a pass that both know, by the count of the first. */
function milesBetween(before: WarningStory, after: WarningStory): number {
  const miles = new Map(readingsOf(before).map((reading) => [reading.pass, reading.miles]));
  for (const reading of readingsOf(after)) {
    const there = miles.get(reading.pass);
    if (there !== undefined) return there - reading.miles;
  }
  return 0;
}

function without<T extends { pass: string }>(readings: readonly T[], known: readonly { pass: string }[]): T[] {
  const passes = new Set(known.map((reading) => reading.pass));
  return readings.filter((reading) => !passes.has(reading.pass));
}
