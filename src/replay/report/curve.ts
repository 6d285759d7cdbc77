import type { Railroad, Way } from "../../line/railroad.ts";
import type { EvidenceReading, Warning } from "../../warning/warning.ts";
import { type BearingRead, evidenceAsTold, milesOf, type Reached, type WarningStory } from "../day.ts";
import { figure } from "../words.ts";
import { levelMark } from "./mark.ts";
import { type Markup, markup, pointsOf, px } from "./markup.ts";
import { labelRows, linear, type Scale, textWidth, ticks } from "./scale.ts";

const WIDTH = 1000;
const LEFT = 58;
const RIGHT = 20;
const TOP = 44;
const PLOT_HEIGHT = 300;
const BOTTOM = TOP + PLOT_HEIGHT;
const SITE_ROWS = 2;
const SET_OUT_ROWS = 3;
const ROW = 15;
/** First baseline of the names of sites, under the figures of the axis. */
const SITES_TOP = BOTTOM + 34;
const FONT = 12;
/** Never less ahead than this, and never so much that the readings shrink to nothing. */
const MILES_AHEAD = { least: 10, most: 80 };
/** How many links on the picture looks for sites and set-out places. */
const HOPS_AHEAD = 3;

interface Frame {
  x: Scale;
  y: Scale;
  story: WarningStory;
  /** The version whose projection is drawn: the first `warn` with one, so that it can be held against what came. */
  projected: Warning | null;
  /** Where that version stood. */
  fromMiles: number;
}

/**
 * A warned bearing over the miles of its journey: raw and levelled readings, the rest of the train's same side, the limit,
 * the projection as first warned with its interval, sites and set-out places. Static SVG; the table beside it has the numbers.
 */
export function bearingCurve(railroad: Railroad, story: WarningStory, number: number): Markup {
  const frame = frameOf(story);
  const ways = waysAhead(railroad, frame.projected ?? story.told);
  const id = `curve-${number}`;
  const clip = `clip-${number}`;
  const sites = siteLane(railroad, frame, ways);
  const setOuts = setOutLane(frame, ways, SITES_TOP + sites.rows * ROW + 4);
  const height = SITES_TOP + (sites.rows + setOuts.rows) * ROW + 12;
  return markup`<div class="scroll" tabindex="0" role="region" aria-label="Curve of warning ${number}">
<svg class="picture curve" role="img" aria-labelledby="${id}-t ${id}-d" viewBox="0 0 ${WIDTH} ${height}">
<title id="${id}-t">Rise of the bearing over miles, warning ${number}</title><desc id="${id}-d">${descriptionOf(frame)}</desc>
<clipPath id="${clip}"><rect x="${LEFT}" y="${TOP - 8}" width="${WIDTH - LEFT - RIGHT}" height="${PLOT_HEIGHT + 8}"/></clipPath>
${axes(frame)}
<g clip-path="url(#${clip})">${sideBand(frame)}${limitLine(frame)}${projection(frame)}${readings(frame)}${laterReadings(frame)}</g>
${levels(frame)}${sites.drawn}${setOuts.drawn}
</svg></div>`;
}

function frameOf(story: WarningStory): Frame {
  const { last, told, asWarned } = story;
  const { evidence } = last;
  // At the limit there is nothing left to project.
  const projected = asWarned?.crossing ? asWarned : story.limit === null && told.crossing ? told : null;
  const later = story.later;
  const readMiles = [...evidence, ...later].map((reading) => reading.miles);
  const lastMiles = Math.max(0, ...readMiles);
  const fromMiles = milesAt(evidence, (projected ?? told).evidence.at(-1)?.pass, lastMiles);
  const wanted = [fromMiles + (projected?.crossing?.high ?? 0), fromMiles + (projected?.nextSite?.miles ?? 0)];
  const farthest = Math.min(Math.max(lastMiles + MILES_AHEAD.least, ...wanted), lastMiles + MILES_AHEAD.most);
  const rises = evidence.flatMap(({ riseF, leveledF, sideMedianF, sideSpreadF }) => [
    riseF ?? 0,
    (leveledF ?? 0) + sideMedianF + sideSpreadF,
    sideMedianF - sideSpreadF,
  ]);
  rises.push(...later.map((reading) => reading.riseF ?? 0));
  const highest = Math.max(last.limitF * 1.12, ...rises.map((rise) => rise * 1.05));
  const lowest = Math.min(0, ...rises);
  const pad = Math.max(1, farthest * 0.02);
  return {
    x: linear(Math.min(0, ...readMiles) - pad, farthest + pad, LEFT, WIDTH - RIGHT),
    y: linear(lowest, highest, BOTTOM, TOP),
    story,
    projected,
    fromMiles,
  };
}

function milesAt(evidence: readonly EvidenceReading[], pass: string | undefined, otherwise: number): number {
  return evidence.find((reading) => reading.pass === pass)?.miles ?? otherwise;
}

function descriptionOf({ story, projected }: Frame): string {
  const { last } = story;
  const read = last.evidence.map((reading) => `${figure(reading.riseF, 0)} at mile ${figure(reading.miles, 1)}`).join(", ");
  const crossing = projected?.crossing;
  const ahead = crossing
    ? ` As warned, the limit was to be reached after ${figure(crossing.miles, 1)} miles, ${figure(crossing.low, 1)} to ${figure(crossing.high, 1)} with a chance of 80 per cent.`
    : "";
  return `Readings in °F above ambient: ${read}. The limit is ${figure(last.limitF, 0)}.${ahead}`;
}

function axes({ x, y }: Frame): Markup {
  const across = ticks(y.from, y.to, 7).map(
    (rise) =>
      markup`<path class="grid" d="M${LEFT} ${px(y.at(rise))}H${WIDTH - RIGHT}"/><text x="${LEFT - 7}" y="${px(y.at(rise) + 4)}" text-anchor="end">${rise}</text>`,
  );
  const along = ticks(Math.max(0, x.from), x.to, 12).map(
    (miles) =>
      markup`<path class="tick" d="M${px(x.at(miles))} ${BOTTOM}v5"/><text x="${px(x.at(miles))}" y="${BOTTOM + 17}" text-anchor="middle">${figure(miles, 0)}</text>`,
  );
  return markup`<g class="axis">${across}<path class="tick" d="M${LEFT} ${BOTTOM}H${WIDTH - RIGHT}"/>${along}
<text x="6" y="14">°F above ambient, over miles since the train was first seen</text></g>`;
}

/** Median and spread of the rest of the train's same side. */
function sideBand({ x, y, story }: Frame): Markup | null {
  const side = story.last.evidence.filter((reading) => Number.isFinite(reading.sideMedianF) && Number.isFinite(reading.sideSpreadF));
  if (side.length === 0) return null;
  const upper = side.map((at) => [x.at(at.miles), y.at(at.sideMedianF + at.sideSpreadF)] as const);
  const lower = side.map((at) => [x.at(at.miles), y.at(at.sideMedianF - at.sideSpreadF)] as const);
  const middle = side.map((at) => [x.at(at.miles), y.at(at.sideMedianF)] as const);
  const single = side.length === 1 ? upper.concat(lower).map(([px0, py0]) => [px0 + 6, py0] as const) : [];
  return markup`<polygon class="side" points="${pointsOf([...upper, ...single, ...lower.toReversed()])}"/><polyline class="side-middle" points="${pointsOf(middle)}"/>`;
}

function limitLine({ y, story }: Frame): Markup {
  const { limitF } = story.last;
  return markup`<path class="limit-line" d="M${LEFT} ${px(y.at(limitF))}H${WIDTH - RIGHT}"/><text class="limit-word" x="${LEFT + 6}" y="${px(y.at(limitF) - 6)}">limit ${figure(limitF, 0)} °F</text>`;
}

/** From the levelled reading at the warn to the limit: the middle dashed, low to high crossing shaded. */
function projection({ x, y, story, projected, fromMiles }: Frame): Markup | null {
  const crossing = projected?.crossing;
  if (!projected || !crossing) return null;
  // An axle that this pass did not see is projected from where it was read last.
  const read = projected.evidence.findLast((reading) => levelled(reading) !== null);
  const startF = levelled(read) ?? projected.riseF;
  if (startF === null) return null;
  const limitY = y.at(projected.limitF);
  const start = [x.at(milesAt(story.last.evidence, read?.pass, fromMiles)), y.at(startF)] as const;
  const [low, middle, high] = [crossing.low, crossing.miles, crossing.high].map((miles) => [x.at(fromMiles + miles), limitY] as const);
  if (!low || !middle || !high) return null;
  const bracket = `M${px(low[0])} ${px(limitY - 7)}v14M${px(low[0])} ${px(limitY)}H${px(high[0])}M${px(high[0])} ${px(limitY - 7)}v14`;
  return markup`<polygon class="fan" points="${pointsOf([start, low, high])}"/><polyline class="fan-middle" points="${pointsOf([start, middle])}"/><path class="bracket" d="${bracket}"/>`;
}

/** A levelled reading on the scale of rises: over the side, put back on the side's median. */
function levelled(reading: EvidenceReading | undefined): number | null {
  if (reading === undefined || reading.leveledF === null || !Number.isFinite(reading.sideMedianF)) return null;
  return reading.leveledF + reading.sideMedianF;
}

function readings({ x, y, story }: Frame): Markup {
  const evidence = evidenceAsTold(story);
  const path = evidence.flatMap((at) => {
    const rise = levelled(at);
    return rise === null || at.used !== "used" ? [] : [[x.at(at.miles), y.at(rise)] as const];
  });
  return markup`<polyline class="levelled-line" points="${pointsOf(path)}"/>${evidence.map((at) => reading(at, x.at(at.miles), y))}`;
}

function reading(at: EvidenceReading, x: number, y: Scale): Markup {
  const rise = levelled(at);
  const spread = Number.isFinite(at.sideSpreadF) ? at.sideSpreadF : 0;
  const tip = markup`<title>${at.site}: raw ${figure(at.riseF, 1)} °F, levelled ${figure(rise, 1)} °F, ${at.used}</title>`;
  if (at.riseF === null) return markup`<g class="reading missing">${tip}<path d="M${px(x - 4)} ${BOTTOM - 12}l8 8m0 -8l-8 8"/></g>`;
  const bar =
    rise === null
      ? null
      : markup`<path class="bar" d="M${px(x)} ${px(y.at(rise - spread))}V${px(y.at(rise + spread))}m-4 0h8M${px(x - 4)} ${px(y.at(rise - spread))}h8"/><circle class="levelled" cx="${px(x)}" cy="${px(y.at(rise))}" r="4"/>`;
  const raw = markup`<rect class="raw" x="${px(x - 4)}" y="${px(y.at(at.riseF) - 4)}" width="8" height="8"/>`;
  const word = at.used === "used" ? null : usedMark(usedWords(at.used), x, y.at(at.riseF) + 15);
  return markup`<g class="reading ${at.used}">${tip}${bar}${raw}${word}</g>`;
}

/** To the right of a reading; to its left where it would run out of the picture. */
function usedMark(words: string, x: number, y: number): Markup {
  const isCut = x + 9 + textWidth(words, FONT) > WIDTH;
  return markup`<text class="used" x="${px(isCut ? x - 9 : x + 9)}" y="${px(y)}"${isCut && markup` text-anchor="end"`}>${words}</text>`;
}

/** Raw only: what came after the last version was not levelled for it. */
function laterReadings({ x, y, story }: Frame): Markup | null {
  const later = story.later.filter((at): at is BearingRead & { riseF: number } => at.riseF !== null);
  const last = story.last.evidence.findLast((at) => at.riseF !== null);
  if (later.length === 0 || last === undefined) return null;
  const path = [last as { miles: number; riseF: number }, ...later].map((at) => [x.at(at.miles), y.at(at.riseF)] as const);
  const raws = later.map(
    (at) =>
      markup`<rect class="raw" x="${px(x.at(at.miles) - 4)}" y="${px(y.at(at.riseF) - 4)}" width="8" height="8"><title>${at.site}: raw ${figure(at.riseF, 1)} °F, after the last version</title></rect>`,
  );
  return markup`<polyline class="later-line" points="${pointsOf(path)}"/>${raws}`;
}

export function usedWords(used: EvidenceReading["used"]): string {
  return { used: "used", "low-outlier": "outlying, hardly used", doubted: "doubted", missing: "not seen" }[used];
}

/** Where each level was first reached, above the plot. */
function levels({ x, story }: Frame): Markup {
  const reached = [story.watch, story.warn, story.limit].filter((at): at is Reached => at !== null);
  const seen = new Map<string, Reached>();
  // Two levels reached at one pass: the higher one is what was told.
  for (const at of reached) seen.set(at.pass, at);
  return markup`<g class="levels">${[...seen.values()].map((at) => {
    const place = x.at(milesOf(story, at));
    return markup`<path class="reached" d="M${px(place)} ${TOP - 14}V${BOTTOM}"/>${levelMark(at.level, place, TOP - 22)}<text x="${px(place + 11)}" y="${TOP - 18}">${at.level}</text>`;
  })}</g>`;
}

/** What lies ahead of the pass that led to a version; unknown when that pass did not see the axle, for then its track is not told. */
function waysAhead(railroad: Railroad, warning: Warning): Way[] {
  if (!railroad.sites.has(warning.site) || warning.evidence.at(-1)?.pass !== warning.pass) return [];
  return railroad.ahead(warning.site, warning.track, warning.direction, HOPS_AHEAD);
}

interface Lane {
  drawn: Markup;
  rows: number;
}

interface Label {
  miles: number;
  text: string;
  ahead: boolean;
}

/** Sites the train passed, and those ahead of where it was warned that it did not come to (yet). */
function siteLane(railroad: Railroad, { x, story, fromMiles }: Frame, ways: readonly Way[]): Lane {
  const nameOf = (site: string) => railroad.sites.get(site)?.name ?? site;
  const read = [...story.last.evidence, ...story.later];
  const passed = new Set(read.map((at) => at.site));
  const lastMiles = Math.max(fromMiles, ...read.map((at) => at.miles));
  const labels: Label[] = read.map((at) => ({ miles: at.miles, text: nameOf(at.site), ahead: false }));
  for (const way of ways) {
    if (passed.has(way.site) || fromMiles + way.miles <= lastMiles) continue;
    labels.push({ miles: fromMiles + way.miles, text: nameOf(way.site), ahead: true });
  }
  return lane(labels, x, SITES_TOP, SITE_ROWS, "site", (at) => markup`<path class="at-site" d="M${px(at)} ${BOTTOM - 6}v12"/>`);
}

function setOutLane({ x, projected, fromMiles, story }: Frame, ways: readonly Way[], top: number): Lane {
  const chosen = (projected ?? story.told).setOut;
  const found = new Map<string, Label & { chosen: boolean }>();
  for (const way of ways) {
    for (const { setOut, miles } of way.setOuts) {
      const isChosen = chosen?.place === setOut.id;
      found.set(setOut.id, {
        miles: fromMiles + miles,
        text: isChosen ? `${setOut.name} (set out here)` : setOut.name,
        ahead: true,
        chosen: isChosen,
      });
    }
  }
  if (chosen && !found.has(chosen.place)) {
    found.set(chosen.place, { miles: fromMiles + chosen.miles, text: `${chosen.name} (set out here)`, ahead: true, chosen: true });
  }
  const labels = [...found.values()];
  const { drawn, rows } = lane(labels, x, top, SET_OUT_ROWS, "set-out", (at, index) => {
    const kind = labels[index]?.chosen ? "place chosen" : "place";
    return markup`<path class="${kind}" d="M${px(at)} ${BOTTOM}l-5 -9h10z"/>`;
  });
  const heading = rows === 0 ? null : markup`<text class="quiet" x="6" y="${top}">set-out</text>`;
  return { drawn: markup`${heading}${drawn}`, rows };
}

/** Labels under the axis, in as many rows as keep them apart; what finds no row keeps its tick and its title. */
function lane(
  labels: readonly Label[],
  x: Scale,
  top: number,
  rows: number,
  kind: string,
  tick: (at: number, index: number) => Markup,
): Lane {
  const inside = labels.map((label, index) => ({ ...label, index })).filter(({ miles }) => miles >= x.from && miles <= x.to);
  inside.sort((a, b) => a.miles - b.miles);
  const spans = inside.map(({ miles, text }) => {
    const half = textWidth(text, FONT) / 2 + 3;
    const middle = Math.min(WIDTH - half, Math.max(LEFT + half, x.at(miles)));
    return { start: middle - half, end: middle + half };
  });
  const row = labelRows(spans, rows);
  const drawn = markup`<g class="lane ${kind}">${inside.map(({ miles, text, ahead, index }, i) => {
    const { start, end } = spans[i] as { start: number; end: number };
    const line = row[i] as number;
    const word =
      line < 0
        ? null
        : markup`<text class="${ahead ? "ahead" : "passed"}" x="${px((start + end) / 2)}" y="${px(top + line * ROW)}" text-anchor="middle">${text}</text>`;
    return markup`<g><title>${text}, mile ${figure(miles, 1)}</title>${tick(x.at(miles), index)}${word}</g>`;
  })}</g>`;
  return { drawn, rows: Math.max(-1, ...row) + 1 };
}
