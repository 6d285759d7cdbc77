import { createHash } from "node:crypto";
import type { Corridor, Railroad } from "../line/railroad.ts";
import { DAY_LIMITS, type Day, highestLevel } from "./day.ts";
import { accounts, keyFigures } from "./report/accounts.ts";
import { type Clock, clockOf } from "./report/clock.ts";
import { LEVELS, levelMark } from "./report/mark.ts";
import { type Markup, markup } from "./report/markup.ts";
import { outOfServiceNote } from "./report/out-of-service.ts";
import { STYLE } from "./report/style.ts";
import { type Numbered, timeDistance } from "./report/time-distance.ts";
import { warningSection, warningTable } from "./report/warning.ts";
import { CAUTION } from "./summary.ts";
import { countOf, countWords } from "./words.ts";

/** What one page holds in full; more would not be read, and a browser would suffer. The files have everything. */
export const PAGE_LIMITS = { detailed: 200, listed: 1_000, corridors: 60 } as const;

/**
 * `report.html`: one file that opens without a network and needs no script. Pure: the same day gives the same bytes.
 * All data is escaped, and a content security policy allows nothing but the page's own style.
 */
export function reportHtml(railroad: Railroad, day: Day): string {
  const clock = clockOf(day.railroad.timeZone);
  const warnings = numbered(day);
  const listed = warnings.slice(0, PAGE_LIMITS.listed);
  const corridors = withTrains(railroad, day);
  const page = markup`<a class="skip" href="#content">Skip to the content</a>
${header(day, clock)}
<main id="content">
<section aria-labelledby="day"><h2 id="day">The day</h2>${keyFigures(day)}${overflowNote(day)}</section>
<section aria-labelledby="diagrams"><h2 id="diagrams">Time and distance</h2>${legend()}
${corridors.shown.map((corridor) => markup`<h3>${corridor.name}</h3>${timeDistance(railroad, corridor, day, warnings, clock)}${outOfServiceNote(railroad, corridor, day, clock)}`)}
${corridors.left > 0 && markup`<p class="quiet">${countOf(corridors.left, "corridor")} more not drawn: narrow the report by site or time to see them.</p>`}</section>
<section aria-labelledby="warnings"><h2 id="warnings">Warnings</h2>${warningTable(railroad, listed, clock)}
${warnings.length > listed.length && markup`<p class="quiet">${countWords(warnings.length - listed.length)} more are in warnings.jsonl.</p>`}</section>
<section aria-labelledby="each"><h2 id="each">Each warning</h2>${detailNote(warnings)}${curveLegend()}
${warnings.filter((one) => one.detailed).map(({ story, number }) => warningSection(railroad, story, number, clock))}</section>
<section aria-labelledby="accounts"><h2 id="accounts">Accounts</h2>${accounts(railroad, day, warnings, clock)}</section>
</main>
<footer><p class="note">${CAUTION}</p></footer>`;
  return documentOf(day, page);
}

function documentOf(day: Day, page: Markup): string {
  const hash = createHash("sha256").update(STYLE).digest("base64");
  const policy = `default-src 'none'; style-src 'sha256-${hash}'; base-uri 'none'; form-action 'none'`;
  const head = markup`<meta charset="utf-8"><meta http-equiv="Content-Security-Policy" content="${policy}"><meta name="viewport" content="width=device-width,initial-scale=1"><meta name="referrer" content="no-referrer"><title>Replay of a day, ${day.railroad.name}</title>`;
  // The style is ours and holds no data; escaping it would change the bytes its hash stands for.
  return `<!doctype html>\n<html lang="en">\n<head>${head.text}<style>${STYLE}</style></head>\n<body>\n${page.text}\n</body>\n</html>\n`;
}

function header(day: Day, clock: Clock): Markup {
  const span = day.span === null ? "no pass" : `${clock.full(day.span.fromMs)} to ${clock.full(day.span.toMs)}, local time (${clock.zone})`;
  return markup`<header><h1>Replay of a day: ${day.railroad.name}</h1>
${day.railroad.demonstration && markup`<p class="note">An invented railroad, for demonstration: its places, trains and readings are not real.</p>`}
<p>${span}. Temperatures are °F above ambient, distances miles.${day.narrowed === null ? "" : ` Reported: ${day.narrowed}; everything was folded, and the accounts are of the whole feed.`}</p>
${day.cutShort !== null && markup`<p class="note"><strong>The feed broke off.</strong> This page is what could be read up to line ${countWords(day.cutShort.line)} of ${day.cutShort.file} (${day.cutShort.code}); what came after is missing here.</p>`}
<p class="note">${CAUTION}</p>
<nav aria-label="Contents"><ul><li><a href="#day">The day</a></li><li><a href="#diagrams">Time and distance</a></li><li><a href="#warnings">Warnings</a></li><li><a href="#each">Each warning</a></li><li><a href="#accounts">Accounts</a></li></ul></nav></header>`;
}

/** Numbers in order of time; the sections go to the most urgent when there are too many. */
function numbered(day: Day): Numbered[] {
  const byUrgency = LEVELS.flatMap((level) =>
    day.warnings.filter((story) => highestLevel(story) === level && story.ending !== "withdrawn"),
  );
  const detailed = new Set(byUrgency.slice(0, PAGE_LIMITS.detailed));
  return day.warnings.map((story, index) => ({ story, number: index + 1, detailed: detailed.has(story) }));
}

function withTrains(railroad: Railroad, day: Day): { shown: Corridor[]; left: number } {
  const sites = new Set(day.trains.flatMap((train) => train.points.map((point) => point.site)));
  const seen = railroad.corridors.filter((corridor) => corridor.sites.some((site) => sites.has(site)));
  return { shown: seen.slice(0, PAGE_LIMITS.corridors), left: Math.max(0, seen.length - PAGE_LIMITS.corridors) };
}

function overflowNote({ overflow }: Day): Markup | null {
  const parts: string[] = [];
  if (overflow.passPoints > 0) parts.push(`${countOf(overflow.passPoints, "pass")} over ${countWords(DAY_LIMITS.passPoints)} not drawn`);
  if (overflow.warnings > 0)
    parts.push(`${countOf(overflow.warnings, "warning")} over ${countWords(DAY_LIMITS.warnings)} not listed (watches gave way first)`);
  return parts.length === 0
    ? null
    : markup`<p class="note">This page is bounded: ${parts.join("; ")}. The files beside it have everything; narrow the report to see more.</p>`;
}

function detailNote(warnings: readonly Numbered[]): Markup | null {
  const shown = warnings.filter((one) => one.detailed).length;
  if (shown === 0) return markup`<p>No warning.</p>`;
  const standing = warnings.filter(({ story }) => story.ending !== "withdrawn").length;
  if (shown === standing) return null;
  return markup`<p class="note">The ${countWords(shown)} most urgent of ${countWords(standing)} warnings are shown in full.</p>`;
}

function legend(): Markup {
  const levels = LEVELS.map(
    (level) => markup`<li><svg viewBox="0 0 34 16" aria-hidden="true">${levelMark(level, 17, 8)}</svg>${level} first reached</li>`,
  );
  return markup`<ul class="legend"><li><svg viewBox="0 0 34 16" aria-hidden="true"><g class="train"><polyline points="0,13 34,3"/></g></svg>a train</li><li><svg viewBox="0 0 34 16" aria-hidden="true"><g class="train warned"><polyline points="0,13 34,3"/></g></svg>a train with a warn or limit</li>${levels}<li><svg viewBox="0 0 34 16" aria-hidden="true"><g class="unheard"><rect x="0" y="4" width="34" height="8"/></g></svg>site dead or silent</li><li><svg viewBox="0 0 34 16" aria-hidden="true"><path class="level lead-in" d="M0 8H34"/></svg>site of the next corridor</li></ul>`;
}

function curveLegend(): Markup {
  const key = (shape: Markup, words: string) => markup`<li><svg viewBox="0 0 34 16" aria-hidden="true">${shape}</svg>${words}</li>`;
  return markup`<ul class="legend">
${key(markup`<rect class="raw" x="13" y="4" width="8" height="8"/>`, "raw, as the site measured it")}
${key(markup`<path class="bar" d="M17 1v14m-4 0h8M13 1h8"/><circle class="levelled" cx="17" cy="8" r="4"/>`, "levelled: scanner bias out, bar = one spread of the side")}
${key(markup`<rect class="side" x="0" y="3" width="34" height="10"/><path class="side-middle" d="M0 8H34"/>`, "rest of the train's same side, median and one spread")}
${key(markup`<path class="limit-line" d="M0 8H34"/>`, "the site's limit")}
${key(markup`<polygon class="fan" points="0,15 20,1 34,1"/><polyline class="fan-middle" points="0,15 27,1"/>`, "projection as first warned, 80 % interval of the crossing")}
${key(markup`<path class="at-site" d="M17 2v12"/>`, "site")}
${key(markup`<path class="place" d="M17 13l-5 -9h10z"/>`, "set-out place")}</ul>`;
}
