import type { Railroad } from "../../line/railroad.ts";
import { shortPlaces } from "../../pass/short-place.ts";
import { conditionWords, deviceWords } from "../../site/condition-words.ts";
import { cameToNothing, DAY_LIMITS, type Day, limitWithoutWarn, TOPICS, type WarningStory } from "../day.ts";
import { accounted } from "../summary.ts";
import { countOf, countWords, figure, msOf, printable } from "../words.ts";
import type { Clock } from "./clock.ts";
import { type Markup, markup } from "./markup.ts";
import type { Numbered } from "./time-distance.ts";

/** Rows of the table of trains and of doubted joins in the page; the files have them all. */
const MOST_ROWS = 300;

/** What became of every record, axle, pass and join of the day. */
export function accounts(railroad: Railroad, day: Day, warnings: readonly Numbered[], clock: Clock): Markup {
  return markup`${recordsTable(day)}${passesTable(day)}${doubts(day)}${rejected(day)}
<h3>Limit readings that had no earlier warn</h3>${stories(limitWithoutWarn(day), warnings, "Every limit reading had a warn at an earlier site, or there was none.")}
<h3>Warns that came to nothing</h3>${stories(cameToNothing(day), warnings, "None.")}
<h3>Site conditions</h3>${conditions(railroad, day, clock)}
<h3>Trains</h3>${trains(railroad, day, clock)}`;
}

function recordsTable(day: Day): Markup {
  const row = (name: string, { used, late, repeated, rejected: refused }: Day["records"]["outcomes"]) =>
    markup`<tr><th scope="row">${name}</th><td>${countWords(used)}</td><td>${countWords(late)}</td><td>${countWords(repeated)}</td><td>${countWords(refused)}</td><td>${countWords(used + late + repeated + refused)}</td></tr>`;
  const topics = TOPICS.filter((topic) => topic !== "other" || Object.values(day.records.byTopic.other).some((count) => count > 0));
  const sum = accounted(day) ? "They add up." : "THEY DO NOT ADD UP: this is a fault of the program, please report it.";
  return markup`<h3>Records</h3><p>${countWords(day.records.read)} records were read, and every one is used, late, repeated or rejected. ${sum}</p>
<div class="scroll" tabindex="0" role="region" aria-labelledby="records-c"><table><caption id="records-c">Records by topic and by what became of them</caption><thead><tr><th scope="col">topic</th><th scope="col">used</th><th scope="col">late</th><th scope="col">repeated</th><th scope="col">rejected</th><th scope="col">all</th></tr></thead>
<tbody>${topics.map((topic) => row(topic, day.records.byTopic[topic]))}</tbody><tfoot>${row("all", day.records.outcomes)}</tfoot></table></div>`;
}

function passesTable(day: Day): Markup {
  const { joins, passes } = day;
  const rows: [string, number][] = [
    ["axles read", day.axles],
    ["bearings followed one by one", day.bearingsFollowed],
    ["passes", passes.count],
    ["joined to an earlier site", joins.made],
    ["began a journey", joins.placed - joins.made],
    ["joined with axles set out, picked up, missed or counted twice", joins.edited],
    ["ran the other way round", joins.flipped],
    ["site's direction doubted", joins.directionDoubted],
    ...Object.entries(joins.doubts).map(([kind, count]) => [`join doubted: ${kind}`, count] as [string, number]),
    ...Object.entries(passes.flags).map(([flag, count]) => [`pass flagged: ${flag}`, count] as [string, number]),
  ];
  return markup`<h3>Axles, passes and joins</h3><table><caption>Axles, passes and joins of the day</caption><thead><tr><th scope="col">what</th><th scope="col">count</th></tr></thead>
<tbody>${rows.map(([what, count]) => markup`<tr><th scope="row">${what}</th><td>${countWords(count)}</td></tr>`)}</tbody></table>`;
}

function doubts(day: Day): Markup {
  if (day.doubts.length === 0) return markup`<h3>Joins doubted</h3><p>None.</p>`;
  const shown = day.doubts.slice(0, MOST_ROWS);
  return markup`<h3>Joins doubted</h3><div class="scroll" tabindex="0" role="region" aria-labelledby="doubts-c"><table class="list"><caption id="doubts-c">Passes that were joined to nothing, or only with doubt, and why</caption><thead><tr><th scope="col">pass</th><th scope="col">kind</th><th scope="col">why</th></tr></thead>
<tbody>${shown.map(({ pass, kind, words }) => markup`<tr><th scope="row" class="id">${pass}</th><td>${kind}</td><td>${words}</td></tr>`)}</tbody></table></div>${rest(day.doubts.length - shown.length + day.overflow.doubts, "doubted join")}`;
}

function rejected(day: Day): Markup {
  if (day.rejected.length === 0) return markup`<h3>Records rejected</h3><p>None.</p>`;
  const row = ({ reason, count, expected, advice, samples }: Day["rejected"][number]) =>
    markup`<tr><th scope="row">${reason}</th><td>${countWords(count)}</td><td>${expected}</td><td>${advice}</td><td>${samples.map(sample)}</td></tr>`;
  const sample = ({ topic, partition, offset, path, raw }: Day["rejected"][number]["samples"][number]) =>
    markup`<div class="sample">${topic} ${partition}:${offset}${path === "" ? "" : `, ${path}`}<br><code>${raw}</code></div>`;
  return markup`<h3>Records rejected</h3><div class="scroll" tabindex="0" role="region" aria-labelledby="rejected-c"><table class="list"><caption id="rejected-c">Records rejected by reason, with the first ${DAY_LIMITS.samplesPerReason} of each</caption><thead><tr><th scope="col">reason</th><th scope="col">count</th><th scope="col">expected</th><th scope="col">what to do</th><th scope="col">where</th></tr></thead>
<tbody>${day.rejected.map(row)}</tbody></table></div>`;
}

function stories(list: readonly WarningStory[], warnings: readonly Numbered[], none: string): Markup {
  if (list.length === 0) return markup`<p>${none}</p>`;
  const numbers = new Map(warnings.map((numbered) => [numbered.story, numbered]));
  return markup`<ul>${list.map((story) => {
    const numbered = numbers.get(story);
    const text = `train ${story.told.train ?? "without an id"}, ${shortPlaces(story.told.place)}`;
    return markup`<li>${numbered?.detailed ? markup`<a href="#w-${numbered.number}">Number ${numbered.number}</a>` : `Number ${numbered?.number ?? "–"}`}: ${text}</li>`;
  })}</ul>`;
}

function conditions(railroad: Railroad, day: Day, clock: Clock): Markup {
  if (day.conditions.length === 0) return markup`<p>None raised.</p>`;
  return markup`<div class="scroll" tabindex="0" role="region" aria-labelledby="cond-c"><table class="list"><caption id="cond-c">Site conditions in order of being raised (local, ${clock.zone})</caption><thead><tr><th scope="col">site</th><th scope="col">device</th><th scope="col">kind</th><th scope="col">raised</th><th scope="col">state</th><th scope="col">what</th><th scope="col">what to do</th></tr></thead>
<tbody>${day.conditions.map(({ site, device, kind, raisedAt, state, time, words, advice }) => {
    const ended = state === "cleared" ? `cleared ${clock.full(msOf(time)).slice(5)}` : "open";
    return markup`<tr><th scope="row">${railroad.sites.get(site)?.name ?? site}</th><td>${device === "" ? "the site" : deviceWords(device)}</td><td>${conditionWords(kind)}</td><td class="nowrap">${clock.full(msOf(raisedAt)).slice(5)}</td><td>${ended}</td><td>${words}</td><td>${advice}</td></tr>`;
  })}</tbody></table></div>${rest(day.overflow.conditions, "condition")}`;
}

function trains(railroad: Railroad, day: Day, clock: Clock): Markup {
  const shown = day.trains.slice(0, MOST_ROWS);
  const corridorName = (id: string) => railroad.corridors.find((one) => one.id === id)?.name ?? id;
  const nameOf = (site: string | undefined) => (site === undefined ? "–" : (railroad.sites.get(site)?.name ?? site));
  return markup`<details><summary>${countOf(day.trains.length, "journey")} by corridor in order of their first pass</summary><div class="scroll" tabindex="0" role="region" aria-labelledby="trains-c"><table class="list"><caption id="trains-c">Trains of the day (local, ${clock.zone})</caption><thead><tr><th scope="col">train</th><th scope="col">corridor</th><th scope="col">first seen</th><th scope="col">at</th><th scope="col">last seen</th><th scope="col">at</th><th scope="col" class="n">passes</th></tr></thead>
<tbody>${shown.map(({ train, corridor, points }) => {
    const [first, last] = [points[0], points.at(-1)];
    return markup`<tr><th scope="row">${train ?? "no id"}</th><td>${corridorName(corridor)}</td><td class="nowrap">${clock.full(first?.timeMs ?? Number.NaN).slice(5)}</td><td>${nameOf(first?.site)}</td><td class="nowrap">${clock.full(last?.timeMs ?? Number.NaN).slice(5)}</td><td>${nameOf(last?.site)}</td><td class="n">${points.length}</td></tr>`;
  })}</tbody></table></div></details>${rest(day.trains.length - shown.length, "journey")}`;
}

function rest(count: number, noun: string): Markup | null {
  return count <= 0
    ? null
    : markup`<p class="quiet">${countOf(count, noun)} more ${count === 1 ? "is" : "are"} not shown here; the files beside this page have them all.</p>`;
}

/** The day at a glance. */
export function keyFigures(day: Day): Markup {
  const standing = day.warnings.filter((story) => story.ending !== "withdrawn").length;
  const cells: [string, string][] = [
    [countWords(day.axles), "axles read"],
    [countWords(day.passes.count), "passes"],
    [countWords(day.joins.made), "joins made"],
    [countWords(Object.values(day.joins.doubts).reduce((sum, count) => sum + count, 0)), "joins doubted"],
    [countWords(standing), "warnings"],
    [countWords(limitWithoutWarn(day).length), "limit readings without an earlier warn"],
    [countWords(cameToNothing(day).length), "warns that came to nothing"],
    [countWords(day.records.outcomes.rejected), "records rejected"],
  ];
  const share = day.passes.count === 0 ? null : (cameToNothing(day).length / day.passes.count) * 1_000;
  return markup`<dl class="key">${cells.map(([count, what]) => markup`<div><dt>${what}</dt><dd>${count}</dd></div>`)}</dl>
<p class="quiet">${share === null ? "" : `Warns that came to nothing: ${figure(share, 2)} per 1,000 train passes. `}Rules: ${day.rules.map(printable).join(", ") || "none in force"}.</p>`;
}
