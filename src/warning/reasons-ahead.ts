import type { Outlook } from "../bearing/track.ts";
import { FAR_MILES } from "./ahead.ts";
import { threshold } from "./chances.ts";
import type { Decision } from "./decide.ts";
import type { Look } from "./look.ts";
import type { FartherChances, Rules } from "./rule-set.ts";
import { lineAhead } from "./straight-line.ts";
import type { Level } from "./warning.ts";
import { degrees, HERE_MILES, milesWords, minutesWords, percent, readingWords } from "./words.ts";

/** What a ruler through the last readings says; empty with fewer than two. */
export function lineReason(look: Look): string {
  const limit = readingWords(look.limits.bearingF);
  const line = lineAhead(look.track, look.limits.bearingF);
  if (line === null) return "";
  const through = `A straight line through its last ${line.readings} readings`;
  if (line.crossingMiles === null) return `${through} does not rise.`;
  if (line.crossingMiles <= 0) return `${through} is already past ${limit}.`;
  const rises = `${through} rises by ${degrees(line.slopeFPerMile)} a mile and`;
  // A line this flat says nothing about a distance.
  if (line.crossingMiles > FAR_MILES) return `${rises} does not reach ${limit} within ${milesWords(FAR_MILES)}.`;
  return `${rises} reaches ${limit} in ${milesWords(line.crossingMiles)}.`;
}

/** What lies ahead: the chances, the distance to the limit, and the rule that gave a level from them. */
export function chanceReasons(look: Look, decision: Decision, rules: Rules, weight: number): string[] {
  const { outlook } = look;
  if (outlook === null) return [];
  const limit = readingWords(look.limits.bearingF);
  const reasons = [
    // What was read at or over the limit has no chance left of reaching it.
    ...(look.riseF >= look.limits.bearingF ? [] : [chanceReason(look, decision, rules, outlook)]),
    `Taken together the readings speak for rising with ${percent(outlook.rising)}, warm but steady ${percent(outlook.steady)}, wandering ${percent(outlook.wandering)}, healthy ${percent(outlook.healthy)}.`,
  ];
  const { crossing } = decision;
  if (crossing !== null && crossing.miles < HERE_MILES && decision.now !== "limit") {
    reasons.push(`If it rises, it is at ${limit} by now.`);
  } else if (crossing !== null && decision.now !== "limit") {
    const minutes = crossing.minutes === null ? "" : `, about ${minutesWords(crossing.minutes)}`;
    reasons.push(
      `If it rises, it reaches ${limit} in ${milesWords(crossing.miles)}${minutes}; four times in five between ${milesWords(crossing.low)} and ${milesWords(crossing.high)}.`,
    );
  }
  if (decision.cause === "chance" && decision.now === decision.level) {
    if (decision.now === "warn" && decision.sight === "measured") reasons.push(risingReason(outlook, rules));
    reasons.push(thresholdReason(decision.now!, rules, weight));
  }
  return reasons;
}

function chanceReason(look: Look, decision: Decision, rules: Rules, outlook: Outlook): string {
  const reaching = `The chance of reaching ${readingWords(look.limits.bearingF)}`;
  const { assumedGapMiles } = rules.hazard;
  const to =
    decision.nextSite === null
      ? `within ${milesWords(assumedGapMiles)}, for no site is known ahead,`
      : `before the next site, ${milesWords(decision.nextSite.miles)} on,`;
  if (decision.sight !== "measured") {
    const known = decision.chanceNext;
    const told =
      known === null ? "cannot be told without a reading" : `is ${percent(known)}, as it was told when the bearing was last measured`;
    return `${reaching} ${to} ${told}.`;
  }
  const after = decision.nextSite === null ? `within ${milesWords(2 * assumedGapMiles)}` : "before the one after that";
  return `${reaching} ${to} is ${percent(outlook.chanceNext)}; ${after} it is ${percent(outlook.chanceNextButOne)}.`;
}

/** A warn goes by the part of the chances that the bearing has by rising. */
function risingReason({ onItsWay }: Outlook, rules: Rules): string {
  if (onItsWay === undefined) return "";
  const { within } = rules.levels.warn.raise;
  const farther = within === undefined ? "" : `, within ${milesWords(within.miles)} ${percent(onItsWay.within)}`;
  return `Counting only that it is on its way up, the chance before the next site is ${percent(onItsWay.next)}, before the one after that ${percent(onItsWay.nextButOne)}${farther}.`;
}

function thresholdReason(level: Level, rules: Rules, weight: number): string {
  const raise: FartherChances = level === "warn" ? rules.levels.warn.raise : rules.levels.watch.raise;
  const from = (chance: number, by: number, words: string) => (chance >= 1 ? [] : [`${percent(threshold(chance, by))} ${words}`]);
  const chances = [
    ...from(raise.beforeNextSite, weight, "before the next site"),
    ...from(raise.beforeNextButOne, weight, "before the one after"),
    ...(raise.within === undefined ? [] : from(raise.within.chance, 1, withinWords(raise.within, weight))),
    ...from(raise.rising, 1, "for rising at all"),
  ].join(" or ");
  const gap = weight === 1 ? "" : `; the gap ahead counts ${weight.toFixed(2)} times`;
  return `By the rules ${rulesWord(level)} is given from a chance of ${chances}${gap}.`;
}

function withinWords({ miles, soon }: NonNullable<FartherChances["within"]>, weight: number): string {
  const onTop = soon === undefined || soon === 0 ? "" : ` (${percent(soon * weight)} of the chance before the one after counts on top)`;
  return `within ${milesWords(miles)}${onTop}`;
}

function rulesWord(level: Level): string {
  return level === "warn" ? "a warning (warn)" : level === "watch" ? "a watch" : "a limit";
}
