import { type Journey, railOfSide, rowOfRoster } from "../journey/journey.ts";
import type { EvidenceReading, Warning } from "../warning/warning.ts";
import { DAY_LIMITS, endingOf, type LaterReading, type Reached, type WarningStory } from "./day.ts";
import { joinOverCorridors } from "./over-corridors.ts";
import { msOf } from "./words.ts";

/** Grid of outbound temperatures, 0.1 °F. */
const TENTHS = 10;

interface Draft extends Omit<WarningStory, "ending" | "later" | "also"> {
  /** Readings after the first warn, from the journey itself; null while no later leg was seen. */
  fromJourney: LaterReading[] | null;
}

/**
 * Every warning of the day by corridor and id: its last version and where each level was first reached. Bounded: when full, a story that
 * never got over `watch` makes room for a new one.
 */
export class Stories {
  readonly #drafts = new Map<string, Draft>();
  readonly #watchOnly = new Set<string>();
  /** Journey -> keys of drafts that said `warn`; at most as many as drafts. */
  readonly #warned = new Map<string, Set<string>>();
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
      draft = { last: warning, versions: 0, corrections: 0, watch: null, warn: null, limit: null, asWarned: null, fromJourney: null };
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
    const ids = this.#warned.get(journey.id);
    if (ids === undefined) return;
    for (const id of ids) {
      const draft = this.#drafts.get(id);
      if (draft?.warn) draft.fromJourney = readingsAfter(journey, draft.warn) ?? draft.fromJourney;
    }
  }

  /** In order of event time of the highest level's first reach, then id. */
  close(): WarningStory[] {
    // What was said under an id that a late pass replaced was said nevertheless: its successor inherits it.
    for (const draft of this.#drafts.values()) {
      const successor = draft.last.state === "withdrawn" ? draft.last.supersededBy : null;
      const heir = successor === null ? undefined : this.#drafts.get(keyOf(draft.last, successor));
      if (heir !== undefined) inherit(heir, draft);
    }
    const stories = joinOverCorridors([...this.#drafts.values()].map(finish));
    return stories.sort((a, b) => reachedMs(a) - reachedMs(b) || (a.last.id < b.last.id ? -1 : 1));
  }

  #reach(draft: Draft, warning: Warning): void {
    // A correction may bring an earlier pass to light; what was published first stays what people were told.
    draft[warning.level] ??= reachedOf(warning);
    if (warning.level === "warn" && draft.asWarned === null) draft.asWarned = warning;
    if (draft.warn === null) return;
    const ids = this.#warned.get(warning.journey) ?? new Set();
    this.#warned.set(warning.journey, ids.add(keyOf(warning, warning.id)));
  }

  #makeRoom(): boolean {
    this.#over++;
    const oldest = this.#watchOnly.values().next().value;
    if (oldest === undefined) return false;
    this.#watchOnly.delete(oldest);
    this.#drafts.delete(oldest);
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
  heir.fromJourney = from.fromJourney ?? heir.fromJourney;
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

function reachedMs(story: WarningStory): number {
  return (story.limit ?? story.warn ?? story.watch)?.timeMs ?? msOf(story.last.time);
}

/** The warned bearing on the legs after the warn; null when the journey no longer holds the passes it was warned at. */
function readingsAfter(journey: Journey, warn: Reached): LaterReading[] | null {
  const seen = journey.legs.find((leg) => leg.pass.id === warn.seen.pass);
  const at = journey.legs.findIndex((leg) => leg.pass.id === warn.pass);
  const rosterAxle = seen?.rosterOfRow[warn.seen.axle - 1] ?? -1;
  if (seen === undefined || at < 0 || rosterAxle < 0) return null;
  const side = ((warn.seen.side === "right" ? 1 : 0) ^ (seen.flipped ? 1 : 0)) as 0 | 1;
  return journey.legs.slice(at + 1).map((leg) => {
    const row = rowOfRoster(leg, rosterAxle);
    const riseF = row < 0 ? Number.NaN : (leg.pass.bearingRiseF[railOfSide(leg, side)][row] ?? Number.NaN);
    const measured = Number.isFinite(riseF) ? Math.round(riseF * TENTHS) / TENTHS : null;
    return { pass: leg.pass.id, site: leg.pass.site, miles: leg.miles, riseF: measured };
  });
}

function finish(draft: Draft): WarningStory {
  const { fromJourney, ...kept } = draft;
  const story = { ...kept, also: [], later: fromJourney ?? evidenceAfter(draft.last.evidence, draft.warn) };
  return { ...story, ending: endingOf(story) };
}

function evidenceAfter(evidence: EvidenceReading[], warn: Reached | null): LaterReading[] {
  const at = warn === null ? -1 : evidence.findIndex((reading) => reading.pass === warn.pass);
  if (at < 0) return [];
  return evidence.slice(at + 1).map(({ pass, site, miles, riseF }) => ({ pass, site, miles, riseF }));
}
