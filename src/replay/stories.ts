import { type Journey, railOfSide, rowOfRoster } from "../journey/journey.ts";
import { riseOn } from "../journey/leg-reading.ts";
import type { Warning } from "../warning/warning.ts";
import { rounded } from "../warning/words.ts";
import { type BearingRead, DAY_LIMITS, endingOf, highestLevel, type Reached, type WarningStory } from "./day.ts";
import { msOf } from "./words.ts";

interface Draft extends Omit<WarningStory, "ending" | "later" | "also"> {
  /** Where it got its first level; null only before the first version that stands. */
  first: Reached | null;
  /** Readings from there on, from the journey itself; null while no later leg was seen. */
  fromJourney: BearingRead[] | null;
}

const UNTOLD = { versions: 0, corrections: 0, watch: null, warn: null, limit: null, asWarned: null, first: null, fromJourney: null };

/**
 * Every warning of the day by corridor and id: its last version and where each level was first reached. Bounded: when full, a story that
 * never got over `watch` makes room for a new one.
 */
export class Stories {
  readonly #drafts = new Map<string, Draft>();
  readonly #watchOnly = new Set<string>();
  /** Journey -> keys of its drafts; at most as many as drafts. */
  readonly #byJourney = new Map<string, Set<string>>();
  #over = 0;

  get over(): number {
    return this.#over;
  }

  get open(): number {
    return this.#drafts.size;
  }

  /** Takes every version, in the order in which they were published. */
  add(warning: Warning): void {
    const key = keyOf(warning, warning.id);
    let draft = this.#drafts.get(key);
    if (draft === undefined) {
      if (this.#drafts.size >= DAY_LIMITS.warnings && !this.#makeRoom()) return;
      draft = { ...UNTOLD, last: warning, told: warning };
      this.#drafts.set(key, draft);
    }
    draft.last = warning;
    draft.versions++;
    if (warning.correction) draft.corrections++;
    if (warning.state !== "withdrawn") this.#reach(draft, warning);
    if (draft.warn === null && draft.limit === null) this.#watchOnly.add(key);
    else this.#watchOnly.delete(key);
  }

  /** A pass was placed: whatever was warned of in that journey may have been measured again. */
  follow(journey: Journey): void {
    for (const key of this.#byJourney.get(journey.id) ?? []) {
      const draft = this.#drafts.get(key);
      if (draft?.first) draft.fromJourney = readingsAfter(journey, draft.first) ?? draft.fromJourney;
    }
  }

  /** In the order in which they began; other corridors know nothing of them yet. */
  close(): WarningStory[] {
    // What was said under an id that a late pass replaced was said nevertheless: its successor inherits it.
    for (const draft of this.#drafts.values()) {
      const successor = draft.last.state === "withdrawn" ? draft.last.supersededBy : null;
      const heir = successor === null ? undefined : this.#drafts.get(keyOf(draft.last, successor));
      if (heir !== undefined) inherit(heir, draft);
    }
    return [...this.#drafts.values()].map(finish);
  }

  #reach(draft: Draft, warning: Warning): void {
    const before = draft.first === null ? null : highestLevel(draft);
    // A correction may bring an earlier pass to light; what was published first stays what people were told.
    draft[warning.level] ??= reachedOf(warning);
    draft.first ??= draft[warning.level];
    if (before !== highestLevel(draft)) draft.told = warning;
    if (warning.level === "warn") draft.asWarned ??= warning;
    const keys = this.#byJourney.get(warning.journey) ?? new Set();
    this.#byJourney.set(warning.journey, keys.add(keyOf(warning, warning.id)));
  }

  #makeRoom(): boolean {
    this.#over++;
    const oldest = this.#watchOnly.values().next().value;
    if (oldest === undefined) return false;
    this.#watchOnly.delete(oldest);
    const journey = this.#drafts.get(oldest)?.last.journey ?? "";
    this.#drafts.delete(oldest);
    const keys = this.#byJourney.get(journey);
    keys?.delete(oldest);
    if (keys?.size === 0) this.#byJourney.delete(journey);
    return true;
  }
}

/** Corridors warn on their own, and may come to the same id for one bearing. */
function keyOf({ corridor }: Warning, id: string): string {
  return `${corridor} ${id}`;
}

function inherit(heir: Draft, from: Draft): void {
  for (const level of ["watch", "warn", "limit"] as const) {
    const theirs = from[level];
    const own = heir[level];
    if (theirs !== null && (own === null || theirs.timeMs < own.timeMs)) heir[level] = theirs;
  }
  heir.asWarned = from.asWarned ?? heir.asWarned;
}

function reachedOf(warning: Warning): Reached {
  const { level, time, pass, site, axle, side, riseF } = warning;
  // The evidence ends with the pass that led to this version, whether or not it saw the axle.
  const at = warning.evidence.at(-1);
  return {
    level,
    timeMs: msOf(time),
    pass: at?.pass ?? pass,
    site: at?.site ?? site,
    miles: at?.miles ?? 0,
    riseF,
    seen: { pass, axle, side },
  };
}

/** The bearing on the legs after it got its first level; null when the journey no longer holds the passes of it. */
function readingsAfter(journey: Journey, first: Reached): BearingRead[] | null {
  const seen = journey.legs.find((leg) => leg.pass.id === first.seen.pass);
  const at = journey.legs.findIndex((leg) => leg.pass.id === first.pass);
  const rosterAxle = seen?.rosterOfRow[first.seen.axle - 1] ?? -1;
  if (seen === undefined || at < 0 || rosterAxle < 0) return null;
  const side = ((first.seen.side === "right" ? 1 : 0) ^ (seen.flipped ? 1 : 0)) as 0 | 1;
  return journey.legs.slice(at + 1).map((leg) => {
    const row = rowOfRoster(leg, rosterAxle);
    const riseF = riseOn(leg, railOfSide(leg, side), row);
    const measured = Number.isFinite(riseF) ? rounded(riseF, 2) : null;
    return { pass: leg.pass.id, site: leg.pass.site, miles: rounded(leg.miles, 2), axle: row < 0 ? null : row + 1, riseF: measured };
  });
}

function finish(draft: Draft): WarningStory {
  const { fromJourney, first, ...kept } = draft;
  const held = new Set(draft.last.evidence.map((reading) => reading.pass));
  const story = { ...kept, also: [], later: (fromJourney ?? []).filter((reading) => !held.has(reading.pass)) };
  return { ...story, ending: endingOf(story) };
}
