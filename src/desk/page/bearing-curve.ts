import { labelRows, linear, type Scale, textWidth, ticks } from "../../replay/report/scale.ts";
import type { OneWarning } from "../views/warning-shape.ts";
import { h, type VNode } from "./element.ts";
import { levelShape } from "./level-mark.ts";
import { useStore } from "./store.ts";
import { degrees, inUnit, type Unit } from "./units.ts";

const WIDTH = 860;
const LEFT = 58;
const RIGHT = 18;
const TOP = 34;
const BOTTOM = 330;
const LANES = 3;
const LANE_ROW = 17;
/** First baseline of the names, under the figures of the axis. */
const LANES_TOP = BOTTOM + 36;
const FONT = 13;
/** How much wider bold letters are. */
const BOLD = 1.12;
/** Room ahead of the last reading even where nothing is projected. */
const LEAST_AHEAD = 25;
/** And no more, however far the crossing's high end lies. */
const MOST_AHEAD = 90;

interface Frame {
  x: Scale;
  y: Scale;
  unit: Unit;
  data: OneWarning;
}

type Reading = OneWarning["evidence"][number];

/** The reading put back on the scale of rises: over its side, on the side's median. */
function levelledF(one: Reading): number | null {
  return one.leveledF === null || !Number.isFinite(one.sideMedianF) ? null : one.leveledF + one.sideMedianF;
}

/**
 * One bearing over the miles of its journey: the band of its side of the train, every reading as measured (square) and
 * levelled (dot) with its scatter, the limit, where it would reach it (fan and bracket), set-out places and sites.
 */
export function BearingCurve({ data }: { data: OneWarning }): VNode {
  const { options } = useStore();
  const frame = frameOf(data, options.unit);
  const { row } = data;
  const names = lanes(frame);
  const height = LANES_TOP + names.rows * LANE_ROW;
  const last = data.evidence.findLast((one) => one.riseF !== null);
  const words = `${data.evidence.length} readings over ${Math.round(data.passedMiles)} miles, last ${degrees(last?.riseF ?? null, options.unit)} against a limit of ${degrees(row.limitF, options.unit)}. The same is in the tables below.`;
  return h(
    "div",
    { class: "scroll", tabIndex: 0, role: "region", "aria-label": "Curve of the bearing" },
    h(
      "svg",
      { class: "curve", viewBox: `0 0 ${WIDTH} ${height}`, role: "img", "aria-label": `The bearing’s rise over the miles. ${words}` },
      axes(frame),
      band(frame),
      limitLine(frame),
      projection(frame),
      readings(frame),
      names.drawn,
    ),
    h(Legend, { isProjected: isProjected(data) }),
  );
}

function frameOf(data: OneWarning, unit: Unit): Frame {
  const { row, evidence, passedMiles } = data;
  const first = evidence[0]?.miles ?? 0;
  const ahead = Math.min(MOST_AHEAD, Math.max(LEAST_AHEAD, row.crossing === null ? 0 : row.crossing.high * 1.05));
  const highest = Math.max(row.limitF * 1.12, ...evidence.map((one) => Math.max(one.riseF ?? 0, (levelledF(one) ?? 0) + one.sideSpreadF)));
  const lowest = Math.min(0, ...evidence.map((one) => one.riseF ?? 0));
  return {
    x: linear(first, passedMiles + ahead, LEFT, WIDTH - RIGHT),
    y: linear(inUnit(lowest, unit), inUnit(highest * 1.05, unit), BOTTOM, TOP),
    unit,
    data,
  };
}

function axes({ x, y, unit, data }: Frame): VNode {
  const atX = ticks(x.from, x.to, 10);
  const atY = ticks(y.from, y.to, 7);
  const zero = data.evidence[0]?.miles ?? 0;
  return h(
    "g",
    { class: "axes" },
    h("path", {
      class: "grid",
      d: [...atX.map((mile) => `M${x.at(mile)} ${TOP}V${BOTTOM}`), ...atY.map((value) => `M${LEFT} ${y.at(value)}H${WIDTH - RIGHT}`)].join(
        "",
      ),
    }),
    atX.map((mile) => h("text", { x: x.at(mile), y: BOTTOM + 16, "text-anchor": "middle" }, String(Math.round(mile - zero)))),
    atY.map((value) => h("text", { x: LEFT - 7, y: y.at(value) + 4, "text-anchor": "end" }, String(value))),
    h("text", { x: 4, y: 16 }, `°${unit} above ambient`),
    h("text", { x: WIDTH - RIGHT, y: 16, "text-anchor": "end" }, "miles since the first site →"),
  );
}

/** What the rest of the train's side reads: median and spread at every site. */
function band({ x, y, unit, data }: Frame): VNode | null {
  const known = data.evidence.filter((one) => Number.isFinite(one.sideMedianF));
  if (known.length === 0) return null;
  const edge = (one: Reading, times: number): string =>
    `${x.at(one.miles)},${y.at(inUnit(one.sideMedianF + times * 2 * one.sideSpreadF, unit))}`;
  const points = [...known.map((one) => edge(one, 1)), ...known.toReversed().map((one) => edge(one, -1))].join(" ");
  return h(
    "g",
    {},
    h("polygon", { class: "side", points }),
    h("polyline", { class: "side-middle", points: known.map((one) => edge(one, 0)).join(" ") }),
  );
}

function limitLine({ y, unit, data }: Frame): VNode {
  const at = y.at(inUnit(data.row.limitF, unit));
  return h(
    "g",
    {},
    h("path", { class: "limit-line", d: `M${LEFT} ${at}H${WIDTH - RIGHT}` }),
    h("text", { class: "limit-word", x: LEFT + 6, y: at - 6 }, `limit ${degrees(data.row.limitF, unit)}`),
  );
}

/** At the limit there is nothing left to project. */
function isProjected({ row }: OneWarning): boolean {
  return row.crossing !== null && row.level !== "limit";
}

function projection({ x, y, unit, data }: Frame): VNode | null {
  const { crossing } = data.row;
  const start = data.evidence.findLast((one) => levelledF(one) !== null);
  if (crossing === null || start === undefined || !isProjected(data)) return null;
  const from = [x.at(start.miles), y.at(inUnit(levelledF(start) ?? 0, unit))] as const;
  const limitY = y.at(inUnit(data.row.limitF, unit));
  const at = (miles: number) => Math.min(WIDTH - RIGHT, x.at(data.passedMiles + miles));
  const words = `could be reached from mile ${Math.round(data.passedMiles + crossing.low - (data.evidence[0]?.miles ?? 0))} on`;
  const [low, middle, high] = [at(crossing.low), at(crossing.miles), at(crossing.high)];
  return h(
    "g",
    {},
    h("polygon", { class: "fan", points: `${from.join(",")} ${low},${limitY} ${high},${limitY}` }),
    h("path", { class: "fan-middle", d: `M${from.join(" ")}L${middle} ${limitY}` }),
    h("path", { class: "bracket", d: `M${low} ${limitY - 8}v16M${low} ${limitY}H${high}M${high} ${limitY - 5}v10` }),
    h("text", { class: "bracket-word", x: Math.min(low, WIDTH - RIGHT - textWidth(words, FONT) * BOLD), y: limitY - 13 }, words),
  );
}

function readings({ x, y, unit, data }: Frame): VNode {
  const counted = data.evidence.filter((one) => one.used === "used" && levelledF(one) !== null);
  const place = (one: Reading): string => `${x.at(one.miles)},${y.at(inUnit(levelledF(one) ?? 0, unit))}`;
  return h(
    "g",
    {},
    h("polyline", { class: "levelled-line", points: counted.map(place).join(" ") }),
    data.evidence.map((one) => reading(one, x, y, unit)),
    levelAt(x, data),
  );
}

function reading(one: Reading, x: Scale, y: Scale, unit: Unit): VNode {
  const at = x.at(one.miles);
  if (one.riseF === null)
    return h("path", { class: "missing", d: `M${at - 5} ${BOTTOM - 14}l10 10m0 -10l-10 10` }, h("title", {}, `${one.name}: not measured`));
  const levelled = levelledF(one);
  const bar = (value: number) => y.at(inUnit(value, unit));
  return h(
    "g",
    { class: one.used },
    h("title", {}, `${one.name}: ${degrees(one.riseF, unit)}, ${one.why}`),
    levelled !== null && h("path", { class: "scatter", d: `M${at} ${bar(levelled - one.sideSpreadF)}V${bar(levelled + one.sideSpreadF)}` }),
    levelled !== null && h("circle", { class: "levelled", cx: at, cy: bar(levelled), r: 4 }),
    h("rect", { class: "raw", x: at - 5, y: bar(one.riseF) - 5, width: 10, height: 10 }),
  );
}

function levelAt(x: Scale, data: OneWarning): VNode {
  return h(
    "g",
    {},
    h("path", { class: "now-line", d: `M${x.at(data.passedMiles)} ${TOP - 6}V${BOTTOM}` }),
    levelShape(data.row.level, x.at(data.passedMiles), TOP - 14, 8),
  );
}

interface Lane {
  drawn: VNode;
  rows: number;
}

/** Names under the axis: sites passed and ahead, then set-out places. */
function lanes({ data, x }: Frame): Lane {
  const sites = [
    ...data.evidence.map((one) => ({ miles: one.miles, text: one.name, kind: "site" })),
    ...data.sitesAhead.map((one) => ({ miles: data.passedMiles + one.miles, text: one.name, kind: "site ahead" })),
  ];
  const places = data.setOuts.map((one) => ({
    miles: data.passedMiles + one.miles,
    text: one.chosen ? `${one.name}: set out` : one.name,
    kind: one.chosen ? "place chosen" : "place",
  }));
  const above = lane(sites, x, LANES_TOP);
  const below = lane(places, x, LANES_TOP + above.rows * LANE_ROW + 4);
  return { drawn: h("g", {}, above.drawn, below.drawn), rows: above.rows + below.rows };
}

function lane(labels: readonly { miles: number; text: string; kind: string }[], x: Scale, top: number): Lane {
  const once = new Map(labels.map((one) => [`${one.text} ${Math.round(one.miles)}`, one]));
  const inside = [...once.values()].filter((one) => one.miles >= x.from && one.miles <= x.to).sort((a, b) => a.miles - b.miles);
  const spans = inside.map(({ miles, text }) => {
    const half = textWidth(text, FONT) / 2 + 4;
    const middle = Math.min(WIDTH - half, Math.max(half, x.at(miles)));
    return { start: middle - half, end: middle + half };
  });
  const rows = labelRows(spans, LANES);
  const drawn = inside.map(({ miles, text, kind }, i) => {
    const at = x.at(miles);
    const row = rows[i] ?? -1;
    const span = spans[i] ?? { start: at, end: at };
    const tick = kind.startsWith("place")
      ? h("path", { class: kind, d: `M${at} ${BOTTOM}l-6 -11h12z` })
      : h("path", { class: "at-site", d: `M${at} ${BOTTOM - 6}v12` });
    return h(
      "g",
      {},
      h("title", {}, text),
      tick,
      row >= 0 && h("text", { class: kind, x: (span.start + span.end) / 2, y: top + row * LANE_ROW, "text-anchor": "middle" }, text),
    );
  });
  return { drawn: h("g", { class: "lane" }, drawn), rows: Math.max(0, ...rows) + 1 };
}

function Legend({ isProjected }: { isProjected: boolean }): VNode {
  const item = (drawing: VNode, words: string) =>
    h("li", {}, h("svg", { class: "curve", width: 30, height: 16, viewBox: "0 0 30 16", "aria-hidden": "true" }, drawing), words);
  return h(
    "ul",
    { class: "legend" },
    item(h("rect", { class: "raw", x: 10, y: 3, width: 10, height: 10 }), "as measured"),
    item(h("circle", { class: "levelled", cx: 15, cy: 8, r: 4 }), "levelled"),
    item(h("rect", { class: "side", x: 2, y: 3, width: 26, height: 10 }), "its side of the train"),
    isProjected && item(h("path", { class: "bracket", d: "M3 2v12M3 8H27M27 4v8" }), "where the limit could be reached, 80 %"),
    item(h("path", { class: "place chosen", d: "M15 14l-6 -11h12z" }), "set-out place"),
    item(h("path", { class: "missing", d: "M10 3l10 10m0 -10l-10 10" }), "not measured"),
  );
}
