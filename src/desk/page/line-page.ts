import { useState } from "preact/hooks";
import { conditionWords, deviceWords } from "../../site/condition-words.ts";
import type { Line } from "../views/line-shape.ts";
import { useAsked, Waiting } from "./asking.ts";
import { Caution } from "./caution.ts";
import { agoWords, bothWords, fullWords, whenBothWords } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { waysOf } from "./expected-ways.ts";
import { LevelWord } from "./level-mark.ts";
import { STATE_WORDS } from "./now-row.ts";
import { hrefOf } from "./route.ts";
import { store, useStore } from "./store.ts";
import { SEES_NOTHING, TimeDistance } from "./time-distance.ts";
import { warnedByJourney } from "./warned-of.ts";

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const SPANS = [2, 4, 8, 12, 24];
/** Of the window, so much lies ahead of now. */
const AHEAD_SHARE = 0.25;
const MOST_AHEAD_MS = 3 * HOUR_MS;
/** The page asks anew at least so often, so that what is expected moves on. */
const FRESH_MS = 20_000;

/** The line, live: time to the right, distance down; trains, sites, warnings, and the next hours. */
export function LinePage(): VNode {
  const { at, pointsVersion, sitesVersion, rows } = useStore();
  const [hours, setHours] = useState(4);
  const [backMs, setBackMs] = useState(0);
  const [corridor, setCorridor] = useState<string | null>(null);
  const step = FRESH_MS * Math.max(1, store.clock.speed);
  const now = Math.floor(store.now() / step) * step;
  const aheadMs = backMs > 0 ? 0 : Math.min(MOST_AHEAD_MS, hours * HOUR_MS * AHEAD_SHARE);
  const toMs = now + aheadMs - backMs;
  const fromMs = toMs - hours * HOUR_MS;
  const { data, error } = useAsked<Line>(
    "/api/line",
    { fromMs, toMs, at },
    `${Math.floor(pointsVersion / 4)} ${sitesVersion} ${rows.version}`,
  );
  if (data === null) return h(Waiting, { error });
  const shown = data.corridors.find((one) => one.id === corridor) ?? data.corridors[0];
  const button = (words: string, onClick: () => void, disabled = false) => h("button", { type: "button", onClick, disabled }, words);
  return h(
    "div",
    { class: "line" },
    h("h1", {}, "The line"),
    h(Caution, {}),
    h(
      "div",
      { class: "tools no-print" },
      h(
        "div",
        { role: "group", "aria-label": "Corridor" },
        data.corridors.map((one) =>
          h("button", { type: "button", "aria-pressed": String(one.id === shown?.id), onClick: () => setCorridor(one.id) }, one.name),
        ),
      ),
      h(
        "div",
        { role: "group", "aria-label": "Hours shown" },
        SPANS.map((span) =>
          h("button", { type: "button", "aria-pressed": String(span === hours), onClick: () => setHours(span) }, `${span} h`),
        ),
      ),
      h(
        "div",
        { role: "group", "aria-label": "Move in time" },
        button("◀ a day", () => setBackMs(backMs + DAY_MS)),
        button("◀ earlier", () => setBackMs(backMs + (hours * HOUR_MS) / 2)),
        button("later ▶", () => setBackMs(Math.max(0, backMs - (hours * HOUR_MS) / 2)), backMs === 0),
        button("now", () => setBackMs(0), backMs === 0),
      ),
    ),
    shown !== undefined && h("section", { class: "sheet" }, h(TimeDistance, { data, corridor: shown, nowMs: store.now() })),
    shown !== undefined && h(Trains, { data, corridor: shown.id }),
    h(SiteStates, { data }),
  );
}

/** The same as a table, for keyboard and ears. */
function Trains({ data, corridor }: { data: Line; corridor: string }): VNode {
  const { zone } = store;
  const now = store.now();
  const warnedBy = warnedByJourney(data);
  const trains = new Map<string, Line["points"]>();
  for (const point of data.points) {
    if (point.corridor !== corridor) continue;
    const points = trains.get(point.journey) ?? [];
    points.push(point);
    trains.set(point.journey, points);
  }
  const lines = [...trains]
    .map(([journey, points]) => ({ journey, first: points[0], last: points.at(-1), count: points.length }))
    .sort((a, b) => (b.last?.timeMs ?? 0) - (a.last?.timeMs ?? 0));
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, "Trains in this window"),
    h(
      "div",
      { class: "scroll", tabIndex: 0, role: "region", "aria-label": "Trains in this window" },
      h(
        "table",
        {},
        h("caption", {}, `From ${fullWords(data.fromMs, zone)} to ${fullWords(data.toMs, zone)}`),
        h(
          "thead",
          {},
          h(
            "tr",
            {},
            ["train", "last heard", "at", "axles", "sites", "expected next", "warnings"].map((name) =>
              h("th", { scope: "col", class: name === "axles" || name === "sites" ? "n" : "" }, name),
            ),
          ),
        ),
        h(
          "tbody",
          {},
          lines.map(({ journey, last, count }) => {
            if (last === undefined) return null;
            const next = nextOf(data, journey, corridor);
            const warned = warnedBy.get(journey) ?? [];
            return h(
              "tr",
              {},
              h("th", { scope: "row" }, h("a", { href: hrefOf("train", journey) }, last.train ?? "without an id")),
              h("td", { class: "nowrap" }, `${bothWords(last.timeMs, zone)}, ${agoWords(last.timeMs, now)}`),
              h("td", {}, store.siteName(last.site)),
              h("td", { class: "n" }, String(last.axles)),
              h("td", { class: "n" }, String(count)),
              h(
                "td",
                {},
                next.length === 0
                  ? "–"
                  : next
                      .map((one) => `${store.siteName(one.site)} ${bothWords(one.timeMs, zone)}${blindSite(data, one.site)}`)
                      .join(" or "),
              ),
              h(
                "td",
                {},
                warned.map((row) =>
                  h("a", { class: "inline", href: hrefOf("warning", row.id) }, h(LevelWord, { level: row.level }), STATE_WORDS[row.state]),
                ),
              ),
            );
          }),
        ),
      ),
    ),
  );
}

/** The next site, one for each way that the train could take. */
function nextOf({ expected }: Line, journey: string, corridor: string): Line["expected"] {
  const ways = waysOf(expected.filter((one) => one.journey === journey && one.corridor === corridor));
  const first = ways.flatMap(([one]) => one ?? []);
  return first.filter(({ site }, i) => first.findIndex((other) => other.site === site) === i);
}

/** ": dead" beside a site that will not see the train. */
function blindSite({ conditions }: Line, site: string): string {
  const found = conditions.find((one) => one.site === site && one.clearedMs === null && SEES_NOTHING.has(one.kind));
  return found === undefined ? "" : `: ${conditionWords(found.kind)}${found.device === "" ? "" : `, ${deviceWords(found.device)}`}`;
}

function SiteStates({ data }: { data: Line }): VNode {
  const { zone } = store;
  const now = store.now();
  const shown = data.conditions.filter((one) => SEES_NOTHING.has(one.kind) || one.clearedMs === null);
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, "Sites that did not see, or not well"),
    shown.length === 0
      ? h("p", { class: "quiet" }, "None in this window.")
      : h(
          "ul",
          { class: "plain" },
          shown.map((one) =>
            h(
              "li",
              {},
              h("a", { href: hrefOf("sites", one.site) }, store.siteName(one.site)),
              " ",
              h("b", {}, conditionWords(one.kind)),
              one.device === "" ? "" : `, ${deviceWords(one.device)},`,
              ` from ${whenBothWords(one.raisedMs, now, zone)}${one.clearedMs === null ? ", still so" : ` to ${whenBothWords(one.clearedMs, now, zone)}`}`,
            ),
          ),
        ),
  );
}
