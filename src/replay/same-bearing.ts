import { readingsOf, type WarningStory } from "./day.ts";

/** What a bearing is known by: the readings behind the last version, and those that came later. */
export type Heard = Pick<WarningStory, "last" | "later">;

/** Readings are kept on a grid of 0.01 to 0.1 °F, by who wrote them down; two bearings seldom agree this well at several sites. */
const SAME_READING_F = 0.06;

/**
 * Two stories are of one bearing when they share a pass and axle, and every reading they share is the same. Journeys and
 * roster numbers are no help: corridors and rule sets number on their own.
 */
export function sameBearing(a: Heard, b: Heard): boolean {
  if (a.last.pass === b.last.pass) return a.last.axle === b.last.axle && a.last.side === b.last.side;
  const readings = new Map(readingsOf(a).map((reading) => [reading.pass, reading]));
  let shared = 0;
  for (const reading of readingsOf(b)) {
    const other = readings.get(reading.pass);
    if (other === undefined || (other.axle === null && reading.axle === null)) continue;
    // The other end of the axle has another reading; the side as told turns with the train and cannot tell them apart.
    if (other.axle !== reading.axle || !isSameReading(other.riseF, reading.riseF)) return false;
    if (reading.riseF !== null) shared++;
  }
  return shared > 0;
}

function isSameReading(aF: number | null, bF: number | null): boolean {
  return aF === null || bF === null ? aF === bF : Math.abs(aF - bF) <= SAME_READING_F;
}

/** Finds stories of the same bearing among many, by the readings behind them. */
export class BearingIndex<Story extends Heard = WarningStory> {
  readonly #byReading = new Map<string, Story[]>();

  constructor(stories: Iterable<Story>) {
    for (const story of stories) {
      for (const key of readingKeys(story)) {
        const there = this.#byReading.get(key);
        if (there === undefined) this.#byReading.set(key, [story]);
        else there.push(story);
      }
    }
  }

  /** In the order in which they were given; the story itself too, if it is among them. */
  matches(story: Story): Story[] {
    const found = new Set<Story>();
    for (const key of readingKeys(story)) for (const other of this.#byReading.get(key) ?? []) found.add(other);
    return [...found].filter((other) => sameBearing(story, other));
  }
}

function readingKeys(story: Heard): string[] {
  return readingsOf(story)
    .filter((reading) => reading.riseF !== null)
    .map((reading) => `${reading.pass} ${reading.axle}`);
}
