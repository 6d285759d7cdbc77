import { heatWords } from "../bearing/heat.ts";
import { FAR_MILES } from "./ahead.ts";
import { threshold } from "./chances.ts";
import type { Decision } from "./decide.ts";
import type { Look } from "./look.ts";
import type { Chances, Rules } from "./rule-set.ts";
import { speedFor } from "./speed.ts";
import { lineAhead } from "./straight-line.ts";
import type { Level } from "./warning.ts";
import { count, degrees, milesWords, minutesWords, percent, readingWords, sentence } from "./words.ts";

/** Why a decision is what it is: complete sentences with numbers and units, the most important first. */
export function reasonsOf(look: Look, decision: Decision, rules: Rules, weight: number): string[] {
  const reasons = [
    readingReason(look),
    ...limitReasons(look, decision),
    sideReason(look),
    mateReason(look),
    ...heatReasons(look, decision),
    ...trendReasons(look, rules),
    lineReason(look),
    ...chanceReasons(look, decision, rules, weight),
    ...standingReasons(decision, rules),
    decision.level === null ? "" : decision.setOut.words,
    ...look.doubts.map((doubt) => `Doubted: ${doubt}`),
    look.rulesInForce ? "" : `No rule set was in force yet at the time of this pass; ${rules.id}, the first one, was used.`,
  ];
  return reasons.filter((reason) => reason !== "").map(sentence);
}

function readingReason(look: Look): string {
  const at = `${look.siteName} (milepost ${look.milepost})`;
  if (!Number.isNaN(look.riseF)) return `The bearing reads ${readingWords(look.riseF)} above ambient at ${at}.`;
  const last = look.track.findLast((reading) => !Number.isNaN(reading.riseF));
  if (last === undefined) return `The bearing was not measured at ${at}, nor at any site before.`;
  const gone = look.vehicleGone ? " Its whole vehicle was not seen there: set out on the way, most likely." : "";
  return `The bearing was not measured at ${at}; it was last seen ${milesWords(look.milesSinceSeen)} ago with ${readingWords(last.riseF)} above ambient.${gone}`;
}

function limitReasons(look: Look, decision: Decision): string[] {
  const { limits } = look;
  switch (decision.cause) {
    case "critical":
      return [`This is at or over the critical limit of ${readingWords(limits.criticalF)}.`];
    case "limit":
      return [`This is at or over the limit of ${readingWords(limits.bearingF)}.`];
    case "axle-difference":
      return [
        `It is ${readingWords(look.riseF - look.mateRiseF)} hotter than the other bearing of its axle, at or over the limit of ${readingWords(limits.axleDifferenceF)} for that difference.`,
      ];
    default:
      return Number.isNaN(look.riseF) ? [] : [`The limit is ${readingWords(limits.bearingF)}.`];
  }
}

function sideReason(look: Look): string {
  const { excessF, sideMedianF, sideSpreadF } = look;
  if (Number.isNaN(excessF)) return "";
  const over = excessF >= 0 ? `${degrees(excessF)} over` : `${degrees(-excessF)} under`;
  if (Number.isNaN(sideMedianF)) return `With the scanner's bias taken out it is ${over} its side of the train.`;
  const spread = Number.isNaN(sideSpreadF) ? "" : `, give or take ${degrees(sideSpreadF)}`;
  return `With the scanner's bias taken out it is ${over} its own kind; the cars' bearings on its side of the train read about ${degrees(sideMedianF)}${spread}.`;
}

function mateReason(look: Look): string {
  return Number.isNaN(look.mateRiseF) ? "" : `The other bearing of the axle reads ${readingWords(look.mateRiseF)} above ambient.`;
}

function heatReasons(look: Look, decision: Decision): string[] {
  const reasons = look.heat === "none" ? [] : [heatWords(look.heat)];
  if (look.heat !== "none" && look.heat !== "bearing" && decision.now === "limit") {
    reasons.push("A limit that was reached stands all the same.");
  }
  if (look.wheelRiseF >= look.limits.wheelF) {
    reasons.push(
      `The wheel beside it reads ${readingWords(look.wheelRiseF)}, at or over ${readingWords(look.limits.wheelF)}: this is information for operations and stops no train by itself.`,
    );
  }
  return reasons;
}

/** A slope under this shows as 0 °F a mile. */
const LEVEL_F_PER_MILE = 0.05;

function trendReasons(look: Look, rules: Rules): string[] {
  const { outlook } = look;
  if (outlook === null) return ["The bearing could not be followed over the sites so far, so no chance can be told."];
  if (look.readings < 2) return ["This is its first reading on this journey, so nothing can be said about a trend yet."];
  const { slopeFPerMile, slopeSdFPerMile } = outlook;
  const speed = speedFor(look, rules);
  const assumed = Number.isNaN(look.speedMph) ? "an assumed " : "";
  const moves = slopeFPerMile < 0 ? "falls" : "rises";
  const isLevel = Math.abs(slopeFPerMile) < LEVEL_F_PER_MILE;
  const reasons = [
    isLevel
      ? `Against its side it holds its level (give or take ${degrees(slopeSdFPerMile)} a mile).`
      : `Against its side it ${moves} by ${degrees(Math.abs(slopeFPerMile))} a mile (give or take ${degrees(slopeSdFPerMile)}), which is ${degrees((Math.abs(slopeFPerMile) * speed) / 60)} a minute at ${assumed}${Math.round(speed)} mph.`,
  ];
  const low = outlook.used.filter((used) => used === "low-outlier").length;
  if (low > 0)
    reasons.push(`${count(low, "low reading")} among them ${low === 1 ? "counts" : "count"} little, for a scanner can read far too low.`);
  if (outlook.fasterThanPublished) {
    reasons.push(
      "It heats faster than the fastest published heating of a bearing (12.8 °F a minute), so the distance to the limit is less sure.",
    );
  }
  return reasons;
}

function lineReason(look: Look): string {
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

function chanceReasons(look: Look, decision: Decision, rules: Rules, weight: number): string[] {
  const { outlook } = look;
  if (outlook === null) return [];
  const limit = readingWords(look.limits.bearingF);
  const to =
    decision.nextSite === null
      ? `within ${milesWords(rules.hazard.assumedGapMiles)}, for no site is known ahead`
      : `before the next site, ${milesWords(decision.nextSite.miles)} on`;
  const reasons = [
    `The chance of reaching ${limit} ${to}, is ${percent(outlook.chanceNext)}; before the one after that it is ${percent(outlook.chanceNextButOne)}.`,
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
  if (decision.cause === "chance" && decision.now === decision.level) reasons.push(thresholdReason(decision.now!, rules, weight));
  return reasons;
}

/** A crossing nearer than this is no distance: it reads as 0 miles. */
const HERE_MILES = 0.05;

function thresholdReason(level: Level, rules: Rules, weight: number): string {
  const raise: Chances = level === "warn" ? rules.levels.warn.raise : rules.levels.watch.raise;
  const from = (chance: number, by: number, words: string) => (chance >= 1 ? [] : [`${percent(threshold(chance, by))} ${words}`]);
  const chances = [
    ...from(raise.beforeNextSite, weight, "before the next site"),
    ...from(raise.beforeNextButOne, weight, "before the one after"),
    ...from(raise.rising, 1, "for rising at all"),
  ].join(" or ");
  const gap = weight === 1 ? "" : `; the gap ahead counts ${weight.toFixed(2)} times`;
  return `By the rules ${rulesWord(level)} is given from a chance of ${chances}${gap}.`;
}

function rulesWord(level: Level): string {
  return level === "warn" ? "a warning (warn)" : level === "watch" ? "a watch" : "a limit";
}

function standingReasons(decision: Decision, rules: Rules): string[] {
  if (decision.change === "lapsed")
    return [`The watch ends: the chances stayed low for ${count(rules.levels.watch.lapseReadings, "reading")} in a row.`];
  if (decision.change !== "held" || decision.level === null || decision.level === decision.now) return [];
  if (decision.level === "watch")
    return ["The watch stands until the chances have stayed low for a while; one low reading does not end it."];
  const held = `${decision.level === "limit" ? "The limit was reached" : "A warning was given"} earlier on this journey; a lower reading does not clear it, an inspection does.`;
  return decision.eased ? [held, "The chances have stayed low since."] : [held];
}
