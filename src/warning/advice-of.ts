import { fillTemplate, type PlaceholderValues } from "./advice.ts";
import type { Decision } from "./decide.ts";
import type { Look } from "./look.ts";
import type { Rules } from "./rule-set.ts";
import { firstAheadWords } from "./set-out.ts";
import { degrees, HERE_MILES, milesWords, readingWords } from "./words.ts";

/** What to do, in the railroad's own words: the text of the rules file for this level, kind of heat and set-out place. */
export function adviceOf(look: Look, decision: Decision, rules: Rules): string {
  if (decision.level === null) return "";
  const values = placeholderValues(look, decision);
  const text = fillTemplate(templateOf(look, decision, rules), values);
  if (!look.keyTrain || decision.level === "watch" || decision.sight === "gone") return text;
  return `${text} ${fillTemplate(rules.advice.keyTrain, values)}`;
}

function templateOf(look: Look, decision: Decision, rules: Rules): string {
  const { watch, warn, limit, held, gone } = rules.advice;
  if (decision.sight === "gone") return gone;
  const heat = look.heat === "none" ? "bearing" : look.heat;
  if (decision.level === "watch") return watch[decision.cause === "hot-wheel" ? "brakes" : heat];
  // A level that this look would not give by itself must not be told as if this look had given it.
  const isHeld = decision.now !== decision.level;
  if (decision.level === "warn") {
    const texts = isHeld ? held.warn : warn;
    return decision.setOut.chosen === null ? texts.stop : texts.setOut;
  }
  if (isHeld) return held.limit;
  if (decision.cause === "critical") return limit.critical;
  // A doubt or a kind of heat may say more, but every one of these texts is one for a train at its limit.
  if (heat !== "bearing") return limit[heat];
  return decision.cause === "axle-difference" ? limit.axleDifference : limit.bearing;
}

function placeholderValues(look: Look, decision: Decision): PlaceholderValues {
  const { nextSite, setOut, standing } = decision;
  const raised = standing?.raised ?? null;
  const values: PlaceholderValues = {
    place: look.place(),
    vehicle: look.vehicle(),
    train: look.train === null ? "the train" : `train ${look.train}`,
    site: look.siteName,
    rise: riseWords(look.riseF),
    limit: degrees(look.limits.bearingF),
    nextSite: nextSite === null ? null : look.nameOf(nextSite.site),
    nextSiteMiles: nextSite === null ? null : milesWords(nextSite.miles),
    nearestSetOut: firstAheadWords(setOut.nearest, look.ahead),
    crossing: crossingWords(decision),
    raisedSite: raised?.siteName ?? look.siteName,
    raisedRise: riseWords(raised?.riseF ?? Number.NaN),
  };
  if (setOut.chosen !== null) {
    values.setOut = setOut.chosen.setOut.name;
    values.setOutMiles = milesWords(setOut.chosen.miles);
  }
  return values;
}

function riseWords(riseF: number): string | null {
  return Number.isNaN(riseF) ? null : `${readingWords(riseF)} above ambient`;
}

/** Goes on after "It could reach 170 °F"; null when there is no telling. */
function crossingWords({ crossing }: Decision): string | null {
  if (crossing === null) return null;
  if (crossing.miles < HERE_MILES) return "at any moment";
  const earliest = crossing.low < HERE_MILES ? "possibly at once" : `${milesWords(crossing.low)} at the earliest`;
  return `in ${milesWords(crossing.miles)} (${earliest})`;
}
