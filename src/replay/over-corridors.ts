import type { EvidenceReading } from "../warning/warning.ts";
import { endingOf, type LaterReading, type Reached, type WarningStory } from "./day.ts";
import { BearingIndex } from "./same-bearing.ts";

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
  const shift = milesBetween(before.last.evidence, after.last.evidence);
  const moved = after.last.evidence.map((reading) => ({ ...reading, miles: rounded(reading.miles + shift) }));
  const known = new Set(moved.map((reading) => reading.pass));
  const evidence = [...before.last.evidence.filter((reading) => !known.has(reading.pass)), ...moved].sort((a, b) => a.miles - b.miles);
  for (const reading of evidence) known.add(reading.pass);
  const later: LaterReading[] = after.later.map((reading) => ({ ...reading, miles: rounded(reading.miles + shift) }));
  for (const reading of later) known.add(reading.pass);
  later.push(...before.later.filter((reading) => !known.has(reading.pass)));
  later.sort((a, b) => a.miles - b.miles);

  const earlier = (level: "watch" | "warn" | "limit"): Reached | null => {
    const theirs = after[level] === null ? null : { ...after[level], miles: rounded(after[level].miles + shift) };
    const own = before[level];
    if (own === null || theirs === null) return own ?? theirs;
    return own.timeMs <= theirs.timeMs ? own : theirs;
  };
  const whole = {
    last: { ...after.last, evidence },
    also: [...new Set([...before.also, before.last.id, ...after.also])].filter((id) => id !== after.last.id),
    versions: before.versions + after.versions,
    corrections: before.corrections + after.corrections,
    watch: earlier("watch"),
    warn: earlier("warn"),
    limit: earlier("limit"),
    asWarned: before.asWarned ?? after.asWarned,
    // What came after the first warn is later, though it is evidence by now.
    later: before.warn === null ? later : laterThan(before.warn, evidence, later),
  };
  return { ...whole, ending: endingOf(whole) };
}

function milesBetween(before: readonly EvidenceReading[], after: readonly EvidenceReading[]): number {
  const miles = new Map(before.map((reading) => [reading.pass, reading.miles]));
  for (const reading of after) {
    const there = miles.get(reading.pass);
    if (there !== undefined) return there - reading.miles;
  }
  return 0;
}

function laterThan(warn: Reached, evidence: readonly EvidenceReading[], later: readonly LaterReading[]): LaterReading[] {
  const since = evidence.filter((reading) => reading.miles > warn.miles);
  return [
    ...since.map(({ pass, site, miles, riseF }) => ({ pass, site, miles, riseF })),
    ...later.filter((reading) => reading.miles > warn.miles),
  ];
}

/** The grid of outbound miles. */
function rounded(miles: number): number {
  return Math.round(miles * 100) / 100;
}
