import { fillTemplate, type Placeholder } from "./advice.ts";
import type { Decision } from "./decide.ts";
import type { Look } from "./look.ts";
import type { Rules } from "./rule-set.ts";
import { degrees, milesWords, readingWords, sentence } from "./words.ts";

/** What to do, in the railroad's own words: the text of the rules file for this level, kind of heat and set-out place. */
export function adviceOf(look: Look, decision: Decision, rules: Rules): string {
  if (decision.level === null) return "";
  const values = placeholderValues(look, decision);
  const text = sentence(fillTemplate(templateOf(look, decision, rules), values));
  if (!look.keyTrain || decision.level === "watch") return text;
  return `${text} ${sentence(fillTemplate(rules.advice.keyTrain, values))}`;
}

function templateOf(look: Look, decision: Decision, rules: Rules): string {
  const { watch, warn, limit } = rules.advice;
  const heat = look.heat === "none" ? "bearing" : look.heat;
  if (decision.level === "limit") {
    if (decision.cause === "critical") return limit.critical;
    // A doubt or a kind of heat may say more, but every one of these texts is one for a train at its limit.
    if (heat !== "bearing") return limit[heat];
    return decision.cause === "axle-difference" ? limit.axleDifference : limit.bearing;
  }
  if (decision.level === "warn") return decision.setOut.chosen === null ? warn.stop : warn.setOut;
  return watch[decision.cause === "hot-wheel" ? "brakes" : heat];
}

function placeholderValues(look: Look, decision: Decision): Partial<Record<Placeholder, string>> {
  const { crossing, nextSite, setOut } = decision;
  const values: Partial<Record<Placeholder, string>> = {
    place: look.place(),
    train: look.train === null ? "the train" : `train ${look.train}`,
    site: look.siteName,
    rise: Number.isNaN(look.riseF) ? "not measured here" : `${readingWords(look.riseF)} above ambient`,
    limit: degrees(look.limits.bearingF),
    nextSite: nextSite?.site ?? "the next site, which is not known",
    nextSiteMiles: nextSite === null ? "an unknown distance" : milesWords(nextSite.miles),
    nearestSetOut:
      setOut.nearest === null ? "no set-out place is known ahead" : `${setOut.nearest.setOut.name}, ${milesWords(setOut.nearest.miles)} on`,
    crossing: crossing === null ? "sooner or later" : `in ${milesWords(crossing.miles)} (${milesWords(crossing.low)} at the earliest)`,
  };
  if (setOut.chosen !== null) {
    values.setOut = setOut.chosen.setOut.name;
    values.setOutMiles = milesWords(setOut.chosen.miles);
  }
  return values;
}
