import type { Outlook } from "../bearing/track.ts";
import { adviceOf } from "./advice-of.ts";
import { FAR_MILES, farthest, hazardWeight } from "./ahead.ts";
import { type ChancesAhead, isLow, onItsWay, reaches } from "./chances.ts";
import { type Look, type Sight, sightOf } from "./look.ts";
import { reasonsOf } from "./reasons.ts";
import type { Rules } from "./rule-set.ts";
import { chooseSetOut, type SetOutChoice, stopNow } from "./set-out.ts";
import { speedFor } from "./speed.ts";
import type { Level } from "./warning.ts";
import { rounded } from "./words.ts";

/** The look that gave a level; of several that gave it, the hottest. */
export interface Raised {
  siteName: string;
  /** NaN when that pass did not measure the bearing. */
  riseF: number;
  cause: Cause;
}

/** What the looks so far have raised: carried from one leg of the journey to the next. */
export interface Standing {
  level: Level;
  /** Measured looks in a row whose chances were under those that lower the level. */
  lowReadings: number;
  raised: Raised;
  /** Chance of reaching the limit before the next site but one, as the last pass told it; null when that did not measure the bearing. */
  nextButOne: number | null;
  /** The part of it that the bearing has by rising; absent: the whole. */
  risingNextButOne?: number;
}

/** What made the level of one look. */
export type Cause = "limit" | "critical" | "axle-difference" | "chance" | "hot-wheel" | "none";

export interface Decision {
  /** After this look; null: nothing stands. */
  level: Level | null;
  /** By this look alone, as if nothing had stood before. */
  now: Level | null;
  cause: Cause;
  /** `lapsed`: a `watch` ended because the chances stayed low. */
  change: "raised" | "held" | "lapsed" | "none";
  /** A `warn` or `limit` stands though the chances stay low: it waits for an inspection. */
  eased: boolean;
  standing: Standing | null;
  /** Event time of the look. */
  timeMs: number;
  riseF: number;
  sight: Sight;
  /** Chance of reaching the limit before the next site that the decision went by; null when it is not known. */
  chanceNext: number | null;
  /** What a warn went by; null when nothing is known. Absent: a decision made by hand. */
  onItsWay?: ChancesAhead | null;
  crossing: { miles: number; low: number; high: number; minutes: number | null; chance: number } | null;
  nextSite: { site: string; miles: number } | null;
  setOut: SetOutChoice;
  /** Complete sentences; empty while nothing stands. */
  reasons: string[];
  advice: string;
  /** Id of the rule set, and its rise after which a bearing that an inspection cleared is raised again. */
  rules: string;
  riseAgainF: number;
}

/** While nothing stands there is nothing to set out. */
const NOT_ASKED: SetOutChoice = { chosen: null, nearest: null, words: "" };

const RANK: Record<Level, number> = { watch: 1, warn: 2, limit: 3 };

/** Order of levels: 0 for none. */
export function rank(level: Level | null): number {
  return level === null ? 0 : RANK[level];
}

/**
 * Decides what one bearing's look means. Pure.
 *
 * A reading at or over the limit, or an axle difference at or over its own, is `limit` before anything else is asked.
 * Levels are latched: `warn` and `limit` never fall here (an inspection result clears them, see lifecycle.ts); a `watch`
 * lapses after `lapseReadings` measured looks with low chances.
 *
 * A pass that did not measure the bearing brings no news of it, so it raises nothing but what was already known: the chance
 * of reaching the limit before the next site but one, told a site ago, is now that before the next site, and the
 * look that was to come in between is not. The outlook's own chances grow over such a gap by all that it does not know.
 */
export function decide(look: Look, before: Standing | null, rules: Rules): Decision {
  const weight = hazardWeight(look.ahead, rules);
  const sight = sightOf(look);
  const chances = chancesOf(look, sight, before);
  const { now, cause } = levelByLook(look, chances, rules, weight);
  const { level, change, standing, eased } = latch(look, now, cause, before, rules);
  const decision: Decision = {
    level,
    now,
    cause,
    change,
    eased,
    standing,
    timeMs: look.timeMs,
    riseF: look.riseF,
    sight,
    chanceNext: chances?.all.chanceNext ?? null,
    onItsWay: chances?.rising ?? null,
    crossing: sight === "gone" ? null : crossingOf(look, rules),
    nextSite: sight === "gone" ? null : nextSiteOf(look),
    setOut: NOT_ASKED,
    reasons: [],
    advice: "",
    rules: rules.id,
    riseAgainF: rules.desk.riseAgainF,
  };
  // Words cost more than the decision itself, and nearly all looks say nothing.
  if (level === null && change !== "lapsed") return decision;
  if (sight !== "gone") decision.setOut = setOutOf(look, level, rules);
  decision.reasons = reasonsOf(look, decision, rules, weight);
  decision.advice = adviceOf(look, decision, rules);
  return decision;
}

/** The chances to go by: all of them, and those of a bearing on its way up. */
interface BothChances {
  all: ChancesAhead;
  rising: ChancesAhead;
}

/** Null: none are known. What left the train is no danger to it. */
function chancesOf(look: Look, sight: Sight, before: Standing | null): BothChances | null {
  const { outlook } = look;
  if (sight === "measured") return outlook === null ? null : { all: outlook, rising: onItsWay(outlook) };
  const known = before?.nextButOne ?? null;
  if (sight === "gone" || known === null) return null;
  const told = (chance: number, now: number | undefined): ChancesAhead => {
    return { chanceNext: Math.min(chance, now ?? chance), chanceNextButOne: 0, rising: 0 };
  };
  const rising = before?.risingNextButOne ?? known;
  return { all: told(known, outlook?.chanceNext), rising: told(rising, outlook === null ? undefined : onItsWay(outlook).chanceNext) };
}

function levelByLook(look: Look, chances: BothChances | null, rules: Rules, weight: number): { now: Level | null; cause: Cause } {
  const hard = hardLimit(look);
  if (hard !== "none") return { now: "limit", cause: hard };
  const byChance = levelByChance(look, chances, rules, weight);
  if (byChance !== null) return { now: byChance, cause: "chance" };
  // A hot wheel is information for operations; it never stops a train by itself (TRADE 2).
  if (look.wheelRiseF >= look.limits.wheelF) return { now: "watch", cause: "hot-wheel" };
  return { now: null, cause: "none" };
}

/** The limits of a single site. Nothing else is asked here: no chance, no doubt, no kind of heat. */
function hardLimit(look: Look): Cause {
  const { riseF, mateRiseF, limits } = look;
  if (riseF >= limits.criticalF) return "critical";
  if (riseF >= limits.bearingF) return "limit";
  // Readings are on a grid of 0.01 held as float32: 145.1 - 30.1 must be 115, not a hair less.
  return rounded(riseF - mateRiseF, 2) >= limits.axleDifferenceF ? "axle-difference" : "none";
}

function levelByChance(look: Look, chances: BothChances | null, rules: Rules, weight: number): Level | null {
  if (chances === null) return null;
  const { warn, watch } = rules.levels;
  const bearing = look.heat === "bearing" || look.heat === "none";
  if (bearing && look.readings >= warn.minimumReadings && reaches(chances.rising, warn.raise, weight)) return "warn";
  return reaches(chances.all, watch.raise, weight) ? "watch" : null;
}

function latch(
  look: Look,
  now: Level | null,
  cause: Cause,
  before: Standing | null,
  rules: Rules,
): Pick<Decision, "level" | "change" | "standing" | "eased"> {
  const byThis: Raised = { siteName: look.siteName, riseF: look.riseF, cause };
  const told = Number.isNaN(look.riseF) || look.outlook === null ? NOTHING_TOLD : toldBy(look.outlook);
  if (before === null || rank(now) > rank(before.level)) {
    if (now === null) return { level: null, change: "none", standing: null, eased: false };
    return { level: now, change: "raised", standing: { level: now, lowReadings: 0, raised: byThis, ...told }, eased: false };
  }
  const watching = before.level === "watch";
  const lowReadings = lowInARow(look, now, before, watching ? rules.levels.watch.lower : rules.levels.warn.lower);
  const isLong = lowReadings >= rules.levels.watch.lapseReadings;
  if (watching && isLong) return { level: null, change: "lapsed", standing: null, eased: false };
  const isHotter = now === before.level && !(look.riseF <= before.raised.riseF) && !Number.isNaN(look.riseF);
  const raised = isHotter ? byThis : before.raised;
  return { level: before.level, change: "held", standing: { level: before.level, lowReadings, raised, ...told }, eased: isLong };
}

const NOTHING_TOLD = { nextButOne: null };

/** What a look leaves for a next one that measures nothing. */
function toldBy(outlook: Outlook): Pick<Standing, "nextButOne" | "risingNextButOne"> {
  const { chanceNextButOne, onItsWay } = outlook;
  if (onItsWay === undefined) return { nextButOne: chanceNextButOne };
  return { nextButOne: chanceNextButOne, risingNextButOne: onItsWay.nextButOne };
}

/** A look that measured nothing neither counts as low nor breaks the row. */
function lowInARow(look: Look, now: Level | null, before: Standing, lower: Rules["levels"]["warn"]["lower"]): number {
  if (Number.isNaN(look.riseF)) return before.lowReadings;
  return now === null && isLow(look.outlook, lower) ? before.lowReadings + 1 : 0;
}

function crossingOf(look: Look, rules: Rules): Decision["crossing"] {
  const { outlook } = look;
  if (outlook === null || outlook.crossing === null) return null;
  const { miles, low } = outlook.crossing;
  const high = Math.min(outlook.crossing.high, FAR_MILES);
  if (!(miles <= FAR_MILES)) return null;
  return { miles, low, high, minutes: (miles / speedFor(look, rules)) * 60, chance: outlook.rising };
}

function nextSiteOf(look: Look): Decision["nextSite"] {
  const way = farthest(look.ahead, 0);
  return way === null ? null : { site: way.site, miles: way.miles };
}

/**
 * At the limit there is no place in time: the train stops. With no crossing in sight the train is to be rid of the bearing
 * before the next site for a `warn`, and there is time for a `watch`.
 */
function setOutOf(look: Look, level: Level | null, rules: Rules): SetOutChoice {
  const { stoppingMiles } = rules.train;
  if (level === "limit") return stopNow(look.ahead, stoppingMiles, look.beyondMiles);
  const nextMiles = farthest(look.ahead, 0)?.miles ?? rules.hazard.assumedGapMiles;
  const lowMiles = look.outlook?.crossing?.low ?? nextMiles;
  return chooseSetOut(look.ahead, lowMiles, stoppingMiles, look.beyondMiles, look.nameOf);
}
