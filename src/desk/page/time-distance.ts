import { scaleLinear } from "d3-scale";
import { useLayoutEffect, useRef } from "preact/hooks";
import { runsWithin, sitePlaces } from "../../replay/report/band-layout.ts";
import { timeTicks } from "../../replay/report/scale.ts";
import { conditionWords, deviceWords } from "../../site/condition-words.ts";
import { needOf } from "../board/urgency.ts";
import type { Line } from "../views/line-shape.ts";
import { clockWords, dayWords, instantOf } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { levelShape } from "./level-mark.ts";
import { hrefOf } from "./route.ts";
import { store } from "./store.ts";

type Corridor = Line["corridors"][number];
type Band = Corridor["bands"][number];
type Place = (value: number) => number;

const WIDTH = 1360;
const LEFT = 190;
const RIGHT = 26;
const TOP = 46;
const BAND_GAP = 58;
/** As large as names need, as long as a band stays on a screen. */
const BAND = { siteRow: 22, mostPerMile: 4, least: 70, most: 470 };
const MOST_TICKS = 12;
const LABEL_ROOM = 70;
/** Conditions under which a site says nothing of the trains that run over it. */
export const SEES_NOTHING: ReadonlySet<string> = new Set(["dead", "connection", "silent", "out-of-service"]);

interface Frame {
  x: Place;
  rows: Map<string, number>;
  band: Band;
  data: Line;
  corridor: string;
}

/** Time to the right, distance along the links downwards: every train a line, every site a level, every warning on its train's line. */
export function TimeDistance({ data, corridor, nowMs }: { data: Line; corridor: Corridor; nowMs: number }): VNode {
  const x = scaleLinear([data.fromMs, data.toMs], [LEFT, WIDTH - RIGHT]);
  const parts: VNode[] = [];
  let top = TOP;
  const ends: number[] = [];
  for (const band of corridor.bands) {
    const rows = sitePlaces(band, top, BAND);
    const bottom = Math.max(...rows.values());
    const frame: Frame = { x, rows, band, data, corridor: corridor.id };
    parts.push(
      h(
        "g",
        { key: band.title },
        ahead(x, nowMs, data, top, bottom),
        times(x, data, top, bottom),
        levels(frame, top),
        unheard(frame),
        trains(frame),
        expected(frame),
        warnings(frame),
      ),
    );
    ends.push(bottom);
    top = bottom + BAND_GAP;
  }
  const height = top - BAND_GAP + 18;
  const box = useRef<HTMLDivElement>(null);
  const nowShare = (x(Math.min(nowMs, data.toMs)) + LABEL_ROOM) / WIDTH;
  // On a narrow screen the end with now is what is looked for; later the reader scrolls.
  useLayoutEffect(() => {
    if (box.current !== null) box.current.scrollLeft = nowShare * box.current.scrollWidth - box.current.clientWidth;
  }, [corridor.id, data.toMs - data.fromMs]);
  const isNow = nowMs > data.fromMs && nowMs < data.toMs;
  const count = new Set(data.points.filter((one) => one.corridor === corridor.id).map((one) => one.journey)).size;
  return h(
    "div",
    { ref: box, class: "scroll", tabIndex: 0, role: "region", "aria-label": `Time and distance, ${corridor.name}` },
    h(
      "svg",
      {
        class: "time-distance",
        viewBox: `0 0 ${WIDTH} ${height}`,
        role: "group",
        "aria-label": `Time and distance, ${corridor.name}: ${count} trains. The same is in the table below.`,
      },
      parts,
      isNow && h("path", { class: "now-line", d: `M${x(nowMs)} 18V${height - 12}` }),
      isNow && h("text", { class: "now-word", x: x(nowMs), y: 13, "text-anchor": "middle" }, `now ${clockWords(nowMs, store.zone)}`),
    ),
  );
}

/** What lies ahead of now, shaded: nothing there was read. */
function ahead(x: Place, nowMs: number, data: Line, top: number, bottom: number): VNode | null {
  if (nowMs >= data.toMs) return null;
  const from = Math.max(LEFT, x(nowMs));
  return h("rect", { class: "ahead", x: from, y: top - 14, width: WIDTH - RIGHT - from, height: bottom - top + 22 });
}

function times(x: Place, data: Line, top: number, bottom: number): VNode {
  const { zone } = store;
  const offset = Date.parse(`${dayWords(data.fromMs, zone)}T00:00:00Z`) - instantOf(`${dayWords(data.fromMs, zone)}T00:00`, zone);
  const marks = timeTicks(data.fromMs, data.toMs, MOST_TICKS, offset);
  return h(
    "g",
    { class: "axes" },
    h("path", { class: "grid", d: marks.map((ms) => `M${x(ms)} ${top - 8}V${bottom + 6}`).join("") }),
    marks.map((ms) => h("text", { x: x(ms), y: top - 12, "text-anchor": "middle" }, clockWords(ms, zone))),
  );
}

function levels({ rows, band }: Frame, top: number): VNode {
  let below = Number.NEGATIVE_INFINITY;
  return h(
    "g",
    {},
    h("text", { class: "band", x: 4, y: top - 26 }, band.title),
    band.sites.map(({ site, name, milepost, own }) => {
      const y = rows.get(site) ?? top;
      below = Math.max(y + 4, below + 15);
      return h(
        "g",
        {},
        h("path", { class: own ? "site-level" : "site-level lead-in", d: `M${LEFT} ${y}H${WIDTH - RIGHT}` }),
        h("text", { x: LEFT - 10, y: below, "text-anchor": "end" }, name, h("tspan", { class: "quiet" }, ` ${milepost.toFixed(1)}`)),
      );
    }),
  );
}

/** Stretches in which a site was dead, cut off, silent or out of service: nobody could see a train there. */
function unheard({ data, rows, x }: Frame): VNode {
  return h(
    "g",
    {},
    data.conditions.flatMap((one) => {
      const y = rows.get(one.site);
      if (y === undefined || !SEES_NOTHING.has(one.kind)) return [];
      const from = x(Math.max(data.fromMs, one.raisedMs));
      const to = x(Math.min(data.toMs, one.clearedMs ?? data.toMs));
      const word = to - from > LABEL_ROOM ? h("text", { class: "unheard-word", x: from + 4, y: y - 8 }, unheardWords(one)) : null;
      return [
        h(
          "g",
          {},
          h("title", {}, store.readable(one.words)),
          h("rect", { class: `unheard ${one.kind}`, x: from, y: y - 5, width: Math.max(3, to - from), height: 10 }),
          word,
        ),
      ];
    }),
  );
}

function unheardWords({ kind, device }: Line["conditions"][number]): string {
  return device === "" ? conditionWords(kind) : `${conditionWords(kind)}, ${deviceWords(device)}`;
}

function trains({ data, rows, band, x, corridor }: Frame): VNode {
  const lines = new Map<string, Line["points"]>();
  for (const point of data.points) {
    if (point.corridor !== corridor) continue;
    const line = lines.get(point.journey) ?? [];
    line.push(point);
    lines.set(point.journey, line);
  }
  const open = new Set(data.rows.filter((row) => row.level !== "watch" && needOf(row) !== "closed").map((row) => row.id));
  const warned = new Set(data.warned.flatMap(({ id, journeys }) => (open.has(id) ? journeys : [])));
  return h(
    "g",
    {},
    [...lines].map(([journey, points]) => trainLine(journey, points, rows, band.branchOf, x, warned.has(journey))),
  );
}

function trainLine(
  journey: string,
  points: Line["points"],
  rows: ReadonlyMap<string, number>,
  branchOf: string | null,
  x: Place,
  warned: boolean,
): VNode | null {
  const here = runsWithin(points, rows, branchOf);
  if (here.length === 0) return null;
  const name = points.at(-1)?.train ?? "without an id";
  const last = here.at(-1)?.at(-1);
  return h(
    "g",
    {
      class: warned ? "train-line warned" : "train-line",
      // For the mouse only: the table below has the link.
      onClick: () => {
        location.hash = hrefOf("train", journey);
      },
    },
    h("title", {}, `train ${name}`),
    here.map((one) => {
      const at = (point: Line["points"][number]): string => `${x(point.timeMs)},${rows.get(point.site)}`;
      const dots = one.map((point) => h("circle", { cx: x(point.timeMs), cy: rows.get(point.site), r: warned ? 2.6 : 1.8 }));
      return h("g", {}, one.length > 1 && h("polyline", { points: one.map(at).join(" ") }), dots);
    }),
    warned && last !== undefined && h("text", { class: "train-name", x: x(last.timeMs) + 6, y: (rows.get(last.site) ?? 0) - 6 }, name),
  );
}

/** Where trains would be next at the speed they were read at: dotted, for nobody knows. */
function expected({ data, rows, x, corridor }: Frame): VNode {
  return h(
    "g",
    { class: "expected" },
    data.expected.flatMap((one) => {
      const to = rows.get(one.site);
      const last = data.points.findLast((point) => point.journey === one.journey && point.corridor === corridor);
      const from = last === undefined ? undefined : rows.get(last.site);
      if (one.corridor !== corridor || to === undefined || from === undefined || last === undefined) return [];
      return [h("path", { d: `M${x(last.timeMs)} ${from}L${Math.min(WIDTH - RIGHT, x(one.timeMs))} ${to}` })];
    }),
  );
}

function warnings({ data, rows, x, corridor }: Frame): VNode {
  return h(
    "g",
    {},
    data.rows.flatMap((row) => {
      const y = rows.get(row.site);
      if (y === undefined || row.corridor !== corridor || row.timeMs < data.fromMs || row.timeMs > data.toMs) return [];
      const isClosed = needOf(row) === "closed";
      return [
        h(
          "a",
          {
            class: isClosed ? "mark closed" : "mark",
            href: hrefOf("warning", row.id),
            "aria-label": `${row.level}, train ${row.train ?? "without an id"}, ${store.siteName(row.site)}`,
          },
          h("title", {}, `${row.level}: train ${row.train ?? "without an id"}, ${row.place}`),
          levelShape(row.level, x(row.timeMs), y, row.level === "watch" ? 7 : 9),
        ),
      ];
    }),
  );
}
