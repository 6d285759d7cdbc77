import type { Corridor, Railroad, Site } from "../../line/railroad.ts";
import { type Day, highestLevel, type PassPoint, type TrainLine, type WarningStory } from "../day.ts";
import { countOf, figure, msOf } from "../words.ts";
import { runsWithin, sitePlaces } from "./band-layout.ts";
import { type Band, bandsOf } from "./bands.ts";
import type { Clock } from "./clock.ts";
import { levelMark } from "./mark.ts";
import { type Markup, markup, pointsOf, px } from "./markup.ts";
import { linear, type Scale, textWidth, timeTicks } from "./scale.ts";

const WIDTH = 1280;
const LEFT = 156;
const RIGHT = 24;
const TOP = 50;
const BAND_GAP = 64;
const FOOT = 22;
/** As large as names need, as long as a band stays printable. */
const BAND = { siteRow: 20, mostPerMile: 5, least: 90, most: 560 };
const FONT = 13;
const MOST_TIME_TICKS = 13;
/** Labels beside marks; more would only cover each other. */
const MOST_LABELS = 300;

/** A numbered warning, as the report lists it. */
export interface Numbered {
  story: WarningStory;
  number: number;
  /** Whether the report has a section for it that a mark can lead to. */
  detailed: boolean;
}

/**
 * One corridor's day as a time-distance diagram: time to the right, distance along the links downwards, each train a line,
 * each site a level, each warning a mark where it first got its level. A branch is a band of its own. Static SVG.
 */
export function timeDistance(railroad: Railroad, corridor: Corridor, day: Day, warnings: readonly Numbered[], clock: Clock): Markup {
  const span = day.span ?? { fromMs: 0, toMs: 1 };
  const time = linear(span.fromMs, Math.max(span.toMs, span.fromMs + 60_000), LEFT, WIDTH - RIGHT);
  const bands = bandsOf(railroad, corridor);
  const warned = new Set(warnings.filter(isActedOn).flatMap(journeysOf));
  const taken: Box[] = [];
  const drawn: Markup[] = [];
  const marked = new Set<string>();
  const here = day.trains.filter((train) => train.corridor === corridor.id);
  const trains = new Set<TrainLine>();
  let y = TOP;
  for (const band of bands) {
    const rows = sitePlaces(band, y, BAND);
    const bottom = Math.max(...rows.values());
    taken.push(...timeBoxes(time, y, clock));
    const lines = here.flatMap((train) => {
      const line = trainLine(train, rows, band, time, warned.has(train.journey ?? ""), taken);
      if (line !== null) trains.add(train);
      return line ?? [];
    });
    drawn.push(grid(time, y, bottom, clock), siteLevels(railroad, corridor, band, rows, y));
    drawn.push(
      markup`<g class="unheard">${unheard(day, rows, time)}</g><g>${lines}</g><g>${marks(warnings, rows, time, marked, taken)}</g>`,
    );
    y = bottom + BAND_GAP;
  }
  const height = y - BAND_GAP + FOOT;
  const id = `td-${corridor.id}`;
  const desc = `${countOf(trains.size, "train")} over ${countOf(corridor.sites.length, "site")}, from ${clock.full(span.fromMs)} to ${clock.full(span.toMs)}, and ${countOf(marked.size, "mark")} of warnings. The same is in the tables of warnings and of trains.`;
  return markup`<div class="scroll" tabindex="0" role="region" aria-label="Time-distance diagram of ${corridor.name}">
<svg class="picture time-distance" role="img" aria-labelledby="${id}-t ${id}-d" viewBox="0 0 ${WIDTH} ${px(height)}">
<title id="${id}-t">Time and distance, ${corridor.name}</title><desc id="${id}-d">${desc}</desc>
${drawn}</svg></div>`;
}

function isActedOn({ story }: Numbered): boolean {
  return story.ending !== "withdrawn" && highestLevel(story) !== "watch";
}

/** Each corridor has its own journey of the train. */
function journeysOf({ story: { last, told, asWarned } }: Numbered): string[] {
  return [last.journey, told.journey, asWarned?.journey ?? last.journey];
}

/** Where the times stand, so that no train's name is written over them. */
function timeBoxes(time: Scale, top: number, clock: Clock): Box[] {
  const width = textWidth("00:00", FONT);
  return marksOf(time, clock).map((ms) => ({ x: time.at(ms) - width / 2, y: top - 14, width }));
}

function marksOf(time: Scale, clock: Clock): number[] {
  return timeTicks(time.from, time.to, MOST_TIME_TICKS, clock.offsetMs(time.from));
}

function grid(time: Scale, top: number, bottom: number, clock: Clock): Markup {
  const marks = marksOf(time, clock);
  let day = "";
  const labels = marks.map((ms) => {
    const newDay = clock.day(ms) !== day;
    day = clock.day(ms);
    const label = newDay ? `${clock.day(ms).slice(5)} ${clock.time(ms)}` : clock.time(ms);
    return markup`<text x="${px(time.at(ms))}" y="${px(top - 14)}" text-anchor="middle">${label}</text>`;
  });
  const lines = marks.map((ms) => `M${px(time.at(ms))} ${px(top - 9)}V${px(bottom + 6)}`).join("");
  return markup`<path class="grid" d="${lines}"/><g class="axis">${labels}</g>`;
}

function siteLevels(railroad: Railroad, corridor: Corridor, band: Band, rows: ReadonlyMap<string, number>, top: number): Markup {
  const own = new Set(corridor.sites);
  let labelY = Number.NEGATIVE_INFINITY;
  const levels = band.sites.map(({ site }) => {
    const y = rows.get(site) ?? top;
    const { name, milepost } = railroad.sites.get(site) as Site;
    labelY = Math.max(y + FONT / 3, labelY + FONT + 2);
    const kind = own.has(site) ? "level" : "level lead-in";
    return markup`<path class="${kind}" d="M${LEFT} ${px(y)}H${WIDTH - RIGHT}"/><text class="site" x="${LEFT - 8}" y="${px(labelY)}" text-anchor="end">${name}<tspan class="quiet"> ${figure(milepost, 1)}</tspan></text>`;
  });
  return markup`<g><text class="band" x="4" y="${px(top - 34)}">${bandTitle(railroad, band)}</text>${levels}</g>`;
}

function bandTitle(railroad: Railroad, band: Band): string {
  const own = band.branchOf === null ? band.sites : band.sites.slice(1);
  const lines = [...new Set(own.map(({ site }) => railroad.sites.get(site)?.line ?? ""))].join(", then ");
  const from = band.branchOf === null ? undefined : railroad.sites.get(band.branchOf)?.name;
  return from === undefined ? lines : `${lines}, from ${from}`;
}

/** Stretches of time in which a site was dead or silent. */
function unheard(day: Day, rows: ReadonlyMap<string, number>, time: Scale): Markup[] {
  const bars: Markup[] = [];
  for (const { kind, site, state, raisedAt, time: at, words } of day.conditions) {
    const row = rows.get(site);
    if (row === undefined || (kind !== "dead" && kind !== "silent")) continue;
    const from = within(time, msOf(raisedAt));
    const to = state === "cleared" ? within(time, msOf(at)) : time.to;
    const width = Math.max(2, time.at(to) - time.at(from));
    bars.push(markup`<rect x="${px(time.at(from))}" y="${px(row - 4)}" width="${px(width)}" height="8"><title>${words}</title></rect>`);
  }
  return bars;
}

function within(time: Scale, ms: number): number {
  return Math.min(time.to, Math.max(time.from, Number.isFinite(ms) ? ms : time.from));
}

/** A train's line in one band: broken where it was elsewhere in between. A pass by itself is a dot. */
function trainLine(
  train: TrainLine,
  rows: ReadonlyMap<string, number>,
  band: Band,
  time: Scale,
  warned: boolean,
  taken: Box[],
): Markup | null {
  const runs = runsWithin(train.points, rows, band.branchOf);
  if (runs.length === 0) return null;
  const place = ({ timeMs, site }: PassPoint) => [time.at(timeMs), rows.get(site) ?? 0] as const;
  const shapes = runs.map((points) => {
    const [x, y] = place(points[0] as PassPoint);
    if (points.length === 1) return markup`<circle class="lone" cx="${px(x)}" cy="${px(y)}" r="2"/>`;
    return markup`<polyline points="${pointsOf(points.map(place))}"/>`;
  });
  const name = train.train ?? "train without an id";
  const label = warned && train.train !== null ? trainLabel(train.train, place((runs[0] as PassPoint[])[0] as PassPoint), taken) : null;
  return markup`<g class="train${warned ? " warned" : ""}"><title>${name}, ${countOf(train.points.length, "pass")}</title>${shapes}${label}</g>`;
}

function trainLabel(train: string, [x, y]: readonly [number, number], taken: Box[]): Markup | null {
  const at = freePlace(taken, x, y, textWidth(train, FONT - 2));
  return at && markup`<text class="train-id" x="${px(at.x)}" y="${px(at.y)}">${train}</text>`;
}

function marks(warnings: readonly Numbered[], rows: ReadonlyMap<string, number>, time: Scale, marked: Set<string>, taken: Box[]): Markup[] {
  const drawn: Markup[] = [];
  for (const { story, number, detailed } of warnings) {
    if (story.ending === "withdrawn") continue;
    for (const reached of [story.watch, story.warn, story.limit]) {
      const row = reached === null ? undefined : rows.get(reached.site);
      if (reached === null || row === undefined || marked.has(`${number} ${reached.level}`)) continue;
      // The site at a junction stands in two bands; its marks are drawn once.
      marked.add(`${number} ${reached.level}`);
      const x = time.at(within(time, reached.timeMs));
      const at = reached.level === "watch" ? null : freePlace(taken, x + 4, row, textWidth(String(number), FONT));
      const label = at && markup`<text class="number" x="${px(at.x)}" y="${px(at.y)}">${number}</text>`;
      const shape = markup`<title>Number ${number}: ${reached.level}, ${story.told.place}</title>${levelMark(reached.level, x, row)}${label}`;
      drawn.push(detailed ? markup`<a href="#w-${number}">${shape}</a>` : markup`<g>${shape}</g>`);
    }
  }
  return drawn;
}

interface Box {
  x: number;
  y: number;
  width: number;
}

/** A place beside (x, y) where a label covers no other; null when all four are taken. */
function freePlace(taken: Box[], x: number, y: number, width: number): { x: number; y: number } | null {
  if (taken.length >= MOST_LABELS) return null;
  const places = [
    [x + 6, y - 5],
    [x - 10 - width, y - 5],
    [x + 6, y + FONT + 2],
    [x - 10 - width, y + FONT + 2],
  ] as const;
  for (const [atX, atY] of places) {
    const free = taken.every((box) => atX > box.x + box.width + 2 || atX + width + 2 < box.x || Math.abs(atY - box.y) > FONT);
    if (!free || atX < LEFT || atX + width > WIDTH) continue;
    taken.push({ x: atX, y: atY, width });
    return { x: atX, y: atY };
  }
  return null;
}
