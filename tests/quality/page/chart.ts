import { type Markup, markup, px } from "../../../src/replay/report/markup.ts";
import { linear, type Scale, ticks } from "../../../src/replay/report/scale.ts";

/** The frame that every picture of the page stands in. */
export const WIDTH = 960;
const HEIGHT = 380;
const LEFT = 64;
const TOP = 18;
const BOTTOM = 46;

export interface Axis {
  from: number;
  to: number;
  words: string;
  /** Values marked on the axis; usual round ones when left out. */
  marks?: readonly number[];
  text?: (value: number) => string;
  /** Equal steps are equal factors. */
  logarithmic?: boolean;
}

export interface Chart {
  id: string;
  title: string;
  description: string;
  x: Axis;
  y: Axis;
  /** Room kept on the right for names of lines. */
  right: number;
  height?: number;
}

export interface Plot {
  x: Scale;
  y: Scale;
}

/** A static picture: axes with figures, what `draw` puts inside, and words for whoever cannot see it. */
export function picture(chart: Chart, draw: (plot: Plot) => Markup): Markup {
  const height = chart.height ?? HEIGHT;
  const plot = { x: scale(chart.x, LEFT, WIDTH - chart.right), y: scale(chart.y, height - BOTTOM, TOP) };
  return markup`<div class="scroll" tabindex="0" role="region" aria-label="${chart.title}"><svg class="picture chart" role="img" aria-labelledby="${chart.id}-t ${chart.id}-d" viewBox="0 0 ${WIDTH} ${height}">
<title id="${chart.id}-t">${chart.title}</title><desc id="${chart.id}-d">${chart.description}</desc>
${axes(chart, plot, height)}${draw(plot)}</svg></div>`;
}

function scale(axis: Axis, start: number, end: number): Scale {
  if (axis.logarithmic !== true) return linear(axis.from, axis.to, start, end);
  const inner = linear(Math.log(axis.from), Math.log(axis.to), start, end);
  return { from: axis.from, to: axis.to, at: (value) => inner.at(Math.log(value)) };
}

function axes({ x, y, right }: Chart, plot: Plot, height: number): Markup {
  const bottom = height - BOTTOM;
  const across = (x.marks ?? ticks(x.from, x.to, 10)).map((value) => {
    const at = px(plot.x.at(value));
    return markup`<path class="grid" d="M${at} ${TOP}V${bottom}"/><text x="${at}" y="${bottom + 18}" text-anchor="middle">${words(x, value)}</text>`;
  });
  const up = (y.marks ?? ticks(y.from, y.to, 8)).map((value) => {
    const at = px(plot.y.at(value));
    return markup`<path class="grid" d="M${LEFT} ${at}H${WIDTH - right}"/><text x="${LEFT - 8}" y="${px(plot.y.at(value) + 4)}" text-anchor="end">${words(y, value)}</text>`;
  });
  const middle = px((LEFT + WIDTH - right) / 2);
  return markup`<g class="axis">${across}${up}<text x="${middle}" y="${height - 8}" text-anchor="middle">${x.words}</text><text x="14" y="${px(bottom / 2)}" text-anchor="middle" transform="rotate(-90 14 ${px(bottom / 2)})">${y.words}</text></g>`;
}

function words(axis: Axis, value: number): string {
  return axis.text === undefined ? String(Math.round(value * 1_000) / 1_000) : axis.text(value);
}

/** Dashes by rule, so that lines are told apart in grey too; the engine's line is whole and heavy. */
const DASHES = ["", "14 4", "10 3 2 3", "6 4", "2 4", "12 3 2 3 2 3", "4 2", "1 3"];

export interface Line {
  name: string;
  points: readonly (readonly [number, number])[];
}

/** Lines, and beside the plot the key to them. */
export function namedLines(lines: readonly Line[], { x, y }: Plot): Markup {
  const drawn = lines.map((line, index) => {
    const points = line.points.map(([across, up]) => `${px(x.at(across))},${px(y.at(up))}`).join(" ");
    const stroke = markup`stroke-width="${index === 0 ? 3 : 1.6}" stroke-dasharray="${DASHES[index % DASHES.length]!}"`;
    const row = TOP + KEY_ROW * (index + 0.5);
    const from = x.at(x.to) + 14;
    return markup`<polyline class="rule" ${stroke} points="${points}"/><path class="rule" ${stroke} d="M${px(from)} ${px(row)}h${KEY_SAMPLE}"/><text x="${px(from + KEY_SAMPLE + 8)}" y="${px(row + 4)}">${line.name}</text>`;
  });
  return markup`${drawn}`;
}

const KEY_ROW = 24;
const KEY_SAMPLE = 44;
