import { heatWords } from "../bearing/heat.ts";
import type { Decision } from "./decide.ts";
import type { Look } from "./look.ts";
import { chanceReasons, lineReason } from "./reasons-ahead.ts";
import type { Rules } from "./rule-set.ts";
import { speedFor } from "./speed.ts";
import { count, degrees, milesWords, readingWords, sentence } from "./words.ts";

/** Why a decision is what it is: complete sentences with numbers and units, the most important first. */
export function reasonsOf(look: Look, decision: Decision, rules: Rules, weight: number): string[] {
  const reasons = [
    readingReason(look, decision),
    ...standingReasons(decision, rules),
    // Of a vehicle that is not in the train any more there is nothing else to say.
    ...(decision.sight === "gone" ? [] : bearingReasons(look, decision, rules, weight)),
    ...(look.notes ?? []),
    ...look.doubts.map((doubt) => `Doubted: ${clause(doubt)}`),
    look.rulesInForce ? "" : `No rule set was in force yet at the time of this pass; ${rules.id}, the first one, was used.`,
  ];
  return reasons.filter((reason) => reason !== "").map(sentence);
}

function bearingReasons(look: Look, decision: Decision, rules: Rules, weight: number): string[] {
  return [
    ...limitReasons(look, decision),
    sideReason(look),
    mateReason(look),
    ...heatReasons(look, decision),
    ...trendReasons(look, rules),
    lineReason(look),
    ...chanceReasons(look, decision, rules, weight),
    decision.level === null ? "" : decision.setOut.words,
  ];
}

function readingReason(look: Look, { sight }: Decision): string {
  const at = `${look.siteName} (milepost ${look.milepost})`;
  if (!Number.isNaN(look.riseF)) return `The bearing reads ${readingWords(look.riseF)} above ambient at ${at}.`;
  const last = look.track.findLast((reading) => !Number.isNaN(reading.riseF));
  if (last === undefined) return `The bearing was not measured at ${at}, nor at any site before.`;
  const before = `; it was last measured ${milesWords(look.milesSinceSeen)} ago with ${readingWords(last.riseF)} above ambient.`;
  if (sight === "gone")
    return `${look.vehicle()} is no longer in the train at ${at}: it was set out, or its axles were not counted${before}`;
  return sight === "not-counted"
    ? `The axle was not counted at ${at}, others of its vehicle were${before}`
    : `The bearing was not measured at ${at}${before}`;
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
  // What an earlier site showed of the heat was said there.
  const reasons = look.heat === "none" || decision.sight !== "measured" ? [] : [heatWords(look.heat)];
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

function standingReasons(decision: Decision, rules: Rules): string[] {
  if (decision.change === "lapsed")
    return [`The watch ends: the chances stayed low for ${count(rules.levels.watch.lapseReadings, "reading")} in a row.`];
  if (decision.change !== "held" || decision.level === null || decision.level === decision.now) return [];
  if (decision.level === "watch" && decision.sight === "gone") return [`${raisedWords(decision)}.`];
  if (decision.level === "watch")
    return ["The watch stands until the chances have stayed low for a while; one low reading does not end it."];
  const held = `${raisedWords(decision)}; a lower reading does not clear it, an inspection does.`;
  return decision.eased ? [held, "The chances have stayed low since."] : [held];
}

/** What gave the level that stands, so that the reading of now is not taken for it. */
function raisedWords({ level, standing }: Decision): string {
  const { siteName, riseF, cause } = standing!.raised;
  const read = Number.isNaN(riseF) ? "" : ` with ${readingWords(riseF)} above ambient`;
  if (level !== "limit") return `A ${level === "warn" ? "warning" : "watch"} was given at ${siteName}${read}`;
  const which =
    cause === "critical" ? "The critical limit" : cause === "axle-difference" ? "The limit of the difference on one axle" : "The limit";
  return `${which} was reached at ${siteName}${read}`;
}

/** Small first letter, for words that go on after a colon. */
function clause(words: string): string {
  return /^[A-Z][a-z]/.test(words) ? words[0]!.toLowerCase() + words.slice(1) : words;
}
