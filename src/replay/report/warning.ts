import type { Railroad } from "../../line/railroad.ts";
import { shortPlaces } from "../../pass/short-place.ts";
import type { EvidenceReading, Warning } from "../../warning/warning.ts";
import { evidenceAsTold, highestLevel, measuredAfterWarn, type Reached, type WarningStory } from "../day.ts";
import { leadMiles } from "../summary.ts";
import { chanceWords, countOf, figure, msOf, otherLimitWords, utcWords } from "../words.ts";
import type { Clock } from "./clock.ts";
import { bearingCurve, usedWords } from "./curve.ts";
import { levelTag } from "./mark.ts";
import { type Markup, markup } from "./markup.ts";

/** One warning in full, as it was told when it got its highest level: what to do, the curve, the reasons, the numbers. */
export function warningSection(railroad: Railroad, story: WarningStory, number: number, clock: Clock): Markup {
  const { told } = story;
  const level = highestLevel(story);
  return markup`<article class="warning" id="w-${number}" aria-labelledby="w-${number}-h">
<h3 id="w-${number}-h">${number}. ${levelTag(level)} train ${told.train ?? "without an id"}, ${told.place}</h3>
<p class="when">${howItWent(railroad, story, clock)}</p>
<p class="advice"><strong>Advice</strong> ${told.advice}</p>
<p class="caution">${told.caution}</p>
${bearingCurve(railroad, story, number)}
<div class="columns"><div><h4>Why</h4><ul>${told.reasons.map((reason) => markup`<li>${reason}</li>`)}</ul></div><div><h4>Numbers</h4>${facts(railroad, story)}</div></div>
${evidenceTable(railroad, story, number, clock)}
${laterTable(railroad, story, number)}${sinceThen(railroad, story, clock)}
</article>`;
}

/** What the last version says, where it is not the one told above. */
function sinceThen(railroad: Railroad, { told, last }: WarningStory, clock: Clock): Markup | null {
  if (last.id === told.id && last.version === told.version) return null;
  return markup`<details><summary>Last version: ${last.level}, ${clock.full(msOf(last.time))}, ${siteName(railroad, last.site)}</summary>
<p>${figure(last.riseF, 1)} °F above ambient, ${figure(last.leveledF, 1)} °F over its side; axle ${last.axle}, ${last.side} side. ${last.advice}</p>
<ul>${last.reasons.map((reason) => markup`<li>${reason}</li>`)}</ul></details>`;
}

function siteName(railroad: Railroad, site: string): string {
  return railroad.sites.get(site)?.name ?? site;
}

/** First watched, first warned, limit reached, and how it ended, in one sentence. */
function howItWent(railroad: Railroad, story: WarningStory, clock: Clock): string {
  const steps = [story.watch, story.warn, story.limit].filter((at): at is Reached => at !== null);
  const told = steps.map(
    (at) => `${at.level} at ${siteName(railroad, at.site)}, ${clock.full(at.timeMs)}, ${figure(at.riseF, 1)} °F above ambient`,
  );
  return `${told.join("; ")}. ${endingWords(story)}`;
}

export function endingWords(story: WarningStory): string {
  const lead = leadMiles(story);
  const seen = measuredAfterWarn(story);
  const highest = Math.max(...seen.map((reading) => reading.riseF as number));
  switch (story.ending) {
    case "limit":
      return lead === null
        ? "The limit was reached with no warn at an earlier site."
        : `The limit was read ${figure(lead, 1)} miles after the first warn.`;
    case "came-to-nothing":
      return `Came to nothing: measured at ${countOf(seen.length, "later site")}, at most ${figure(highest, 1)} °F, the limit not reached.`;
    case "not-seen-again":
      return "The bearing was not measured again after the warn: set out, or the train's way ended.";
    case "watch":
      return "It stayed a watch.";
    case "information":
      return "Information, not a bearing's warning.";
    case "withdrawn":
      return "Withdrawn: a late pass changed what had been said.";
  }
}

function facts(railroad: Railroad, story: WarningStory): Markup {
  const { last, told } = story;
  const other = otherLimitWords(told);
  const rows: [string, string][] = [
    ["rise as told", `${figure(told.riseF, 1)} °F above ambient, limit ${figure(told.limitF, 0)} °F${other === "" ? "" : `; ${other}`}`],
    ["over its side of the train", `${figure(told.leveledF, 1)} °F`],
    ["slope", `${figure(told.slopeFPerMile, 2)} °F a mile, ${figure(told.slopeFPerMinute, 2)} °F a minute`],
    ["kind of heat", told.heat],
    [
      "chance of the limit",
      `before the next site ${chanceWords(told.chances.beforeNextSite)}, before the next but one ${chanceWords(told.chances.beforeNextButOne)}`,
    ],
    ["it is", chances(told)],
    ["limit expected", crossingWords(told)],
    [
      "next site",
      told.nextSite === null ? "none known" : `${siteName(railroad, told.nextSite.site)} in ${figure(told.nextSite.miles, 1)} miles`,
    ],
    ["set out", setOutWords(told)],
    ["last measured", told.lastSeenMiles > 0 ? `${figure(told.lastSeenMiles, 1)} miles ago` : "at this pass"],
    ["vehicle", vehicleWords(told)],
    [
      "axle and side",
      `axle ${told.axle}, ${told.side} side in the direction of travel, over ${siteName(railroad, told.site)} track ${told.track}`,
    ],
    [
      "state",
      `${last.state}; ${countOf(story.versions, "version")}${story.corrections > 0 ? `, ${countOf(story.corrections, "correction")}` : ""}`,
    ],
    ["rules", told.rules],
    ["warning id", [last.id, ...story.also].join(", and in the corridor before ")],
    ["journey", told.journey],
  ];
  return markup`<dl>${rows.map(([term, text]) => markup`<div><dt>${term}</dt><dd>${text}</dd></div>`)}</dl>`;
}

function chances({ chances: { rising, steady, wandering, healthy } }: Warning): string {
  return `rising ${chanceWords(rising)}, warm and steady ${chanceWords(steady)}, wandering ${chanceWords(wandering)}, healthy ${chanceWords(healthy)}`;
}

function crossingWords({ level, crossing }: Warning): string {
  if (level === "limit") return "reached";
  if (crossing === null) return "no crossing in sight";
  const { miles, low, high, minutes, milepost, line, chance } = crossing;
  const where = milepost === null ? "" : `, milepost ${figure(milepost, 1)}${line === null ? "" : ` ${line}`}`;
  const when = minutes === null ? "" : `, ${figure(minutes, 0)} minutes`;
  return `in ${figure(miles, 1)} miles (${figure(low, 1)} to ${figure(high, 1)})${when}${where}, chance ${chanceWords(chance)}`;
}

function setOutWords({ setOut }: Warning): string {
  if (setOut === null) return "no place before the low end of the interval";
  return `${setOut.name}, milepost ${figure(setOut.milepost, 1)}, ${figure(setOut.miles, 1)} miles on, room for ${countOf(setOut.carLengths, "car")}`;
}

function vehicleWords({ vehicle }: Warning): string {
  if (vehicle === null) return "not found in the spacings";
  const { kind, ordinalOfKind, ordinal, id, axleInVehicle, axlesInVehicle, truck, trucks, axleInTruck, confidence } = vehicle;
  const name = id === null ? "" : ` (${id})`;
  return `${kind} ${ordinalOfKind}${name}, vehicle ${ordinal} of all, axle ${axleInVehicle} of ${axlesInVehicle}, truck ${truck} of ${trucks}, axle ${axleInTruck} of it; bounds right with ${chanceWords(confidence)}`;
}

function evidenceTable(railroad: Railroad, story: WarningStory, number: number, clock: Clock): Markup {
  const evidence = evidenceAsTold(story);
  return markup`<div class="scroll" tabindex="0" role="region" aria-labelledby="w-${number}-e"><table>
<caption id="w-${number}-e">Readings behind warning ${number}, °F above ambient</caption>
<thead><tr><th scope="col">site</th><th scope="col">milepost</th><th scope="col">local time</th><th scope="col">UTC</th><th scope="col">mile</th><th scope="col">axle</th><th scope="col">raw</th><th scope="col">over its side</th><th scope="col">side's median</th><th scope="col">side's spread</th><th scope="col">scanner bias</th><th scope="col">the reading was</th></tr></thead>
<tbody>${evidence.map((at) => evidenceRow(railroad, at, clock))}</tbody></table></div>`;
}

function evidenceRow(railroad: Railroad, at: EvidenceReading, clock: Clock): Markup {
  const ms = msOf(at.time);
  return markup`<tr><th scope="row">${siteName(railroad, at.site)}</th><td>${figure(at.milepost, 1)}</td><td class="nowrap">${clock.full(ms).slice(5)}</td><td>${utcWords(ms).slice(11)}</td><td>${figure(at.miles, 2)}</td><td>${at.axle ?? "not seen"}</td><td>${figure(at.riseF, 1)}</td><td>${figure(at.leveledF, 1)}</td><td>${figure(at.sideMedianF, 1)}</td><td>${figure(at.sideSpreadF, 1)}</td><td>${figure(at.biasF, 1)}</td><td>${usedWords(at.used)}</td></tr>`;
}

/** Readings after the warn that its last version does not hold: nothing new was to be said, but an engineer wants to see them. */
function laterTable(railroad: Railroad, story: WarningStory, number: number): Markup | null {
  const later = story.later;
  if (later.length === 0) return null;
  return markup`<table><caption>Measured after the last version of warning ${number}, °F above ambient</caption>
<thead><tr><th scope="col">site</th><th scope="col">mile</th><th scope="col">raw</th></tr></thead>
<tbody>${later.map((at) => markup`<tr><th scope="row">${siteName(railroad, at.site)}</th><td>${figure(at.miles, 2)}</td><td>${at.riseF === null ? "not seen" : figure(at.riseF, 1)}</td></tr>`)}</tbody></table>`;
}

/** The list of all warnings: what the marks of the diagrams are, in words. */
export function warningTable(
  railroad: Railroad,
  warnings: readonly { story: WarningStory; number: number; detailed: boolean }[],
  clock: Clock,
): Markup {
  if (warnings.length === 0) return markup`<p>No warning.</p>`;
  return markup`<div class="scroll" tabindex="0" role="region" aria-labelledby="list-c"><table class="list">
<caption id="list-c">Warnings in order of time (local, ${clock.zone})</caption>
<thead><tr><th scope="col">no.</th><th scope="col">level</th><th scope="col">first reached</th><th scope="col">train</th><th scope="col">bearing</th><th scope="col">site</th><th scope="col" class="n">rise °F</th><th scope="col" class="n">°F a mile</th><th scope="col">limit expected</th><th scope="col">how it ended</th></tr></thead>
<tbody>${warnings.map(({ story, number, detailed }) => listRow(railroad, story, number, detailed, clock))}</tbody></table></div>`;
}

function listRow(railroad: Railroad, story: WarningStory, number: number, detailed: boolean, clock: Clock): Markup {
  const { told } = story;
  const head = detailed ? markup`<a href="#w-${number}">${number}</a>` : markup`${number}`;
  return markup`<tr><th scope="row">${head}</th><td>${levelTag(highestLevel(story))}</td><td class="nowrap">${clock.full(msOf(told.time)).slice(5)}</td><td>${told.train ?? "no id"}</td><td class="nowrap">${shortPlaces(told.place)}</td><td>${siteName(railroad, told.site)}</td><td class="n">${figure(told.riseF, 1)}</td><td class="n">${figure(told.slopeFPerMile, 2)}</td><td>${shortCrossing(told)}</td><td>${endingWords(story)}</td></tr>`;
}

function shortCrossing(told: Warning): string {
  const { level, crossing } = told;
  if (level === "limit") return otherLimitWords(told) === "" ? "reached" : "reached, between the ends of its axle";
  return crossing === null ? "–" : `${figure(crossing.miles, 1)} miles (${figure(crossing.low, 1)} to ${figure(crossing.high, 1)})`;
}
