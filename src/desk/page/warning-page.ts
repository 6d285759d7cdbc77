import { actionWords } from "../views/action-words.ts";
import type { OneWarning } from "../views/shapes.ts";
import { ActionsPanel } from "./actions-panel.ts";
import { useAsked, Waiting } from "./asking.ts";
import { BearingCurve } from "./bearing-curve.ts";
import { agoWords, bothWords, clockWords, fullWords } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { LevelMark, LevelWord } from "./level-mark.ts";
import { crossingWords, leftWords, STATE_WORDS } from "./now-row.ts";
import { hrefOf } from "./route.ts";
import { store, useStore, useTicking } from "./store.ts";
import { chance, degrees, finely, miles, perMile } from "./units.ts";
import { VehicleStrip } from "./vehicle-strip.ts";

/** One warning: what to do, the evidence, what was done, and what can be done. */
export function WarningPage({ id }: { id: string }): VNode {
  const { rows, at } = useStore();
  const live = rows.get(id);
  const { data, error, again } = useAsked<OneWarning>("/api/warning", { id, at }, `${live?.version} ${live?.actions} ${live?.state}`);
  if (data === null) return h(Waiting, { error });
  const { row, warning } = data;
  return h(
    "article",
    { class: "one-warning" },
    h("p", { class: "crumb no-print" }, h("a", { href: hrefOf("now") }, "Now"), " / one warning"),
    h(Heading, { data }),
    h(
      "div",
      { class: "two" },
      h(
        "div",
        {},
        h("section", { class: "sheet" }, h("h2", {}, "The bearing over the miles"), h(BearingCurve, { data }), h(Ahead, { data })),
        h("section", { class: "sheet" }, h("h2", {}, "Every reading"), h(Readings, { data })),
      ),
      h(
        "div",
        {},
        at === null && h(ActionsPanel, { data, again }),
        h("section", { class: "sheet" }, h("h2", {}, "What was done"), h(Story, { data })),
        h(
          "section",
          { class: "sheet" },
          h("h2", {}, "Why"),
          h(
            "ul",
            { class: "plain" },
            warning.reasons.map((reason) => h("li", {}, reason)),
          ),
          h(Chances, { data }),
        ),
      ),
    ),
    data.strip.length > 0 &&
      h(
        "section",
        { class: "sheet" },
        h("h2", {}, "The train at its last sites"),
        h(VehicleStrip, { legs: data.strip, focus: row.id }),
        h("p", {}, h("a", { href: hrefOf("train", warning.journey) }, "All of this train: passes, joins, bearings ranked")),
      ),
    h("p", { class: "quiet small" }, `Rules ${warning.rules}, version ${warning.version}, ${warning.id}.`),
  );
}

function Heading({ data }: { data: OneWarning }): VNode {
  useTicking(1_000);
  const { row, warning } = data;
  const { options, zone } = store;
  const now = store.now();
  return h(
    "header",
    { class: `sheet big ${row.level}` },
    h("div", { class: "big-level" }, h(LevelMark, { level: row.level, size: 46 }), h("span", { class: `level ${row.level}` }, row.level)),
    h(
      "div",
      { class: "big-what" },
      h("h1", {}, row.train === null ? "Train without an id" : `Train ${row.train}`),
      h("p", { class: "place" }, warning.place),
      h(
        "p",
        { class: "quiet" },
        `Read at ${store.siteName(row.site)} track ${row.track}, ${bothWords(row.readMs ?? row.timeMs, zone)}, ${agoWords(row.readMs ?? row.timeMs, now)}. `,
        h("b", {}, row.pending ? `${STATE_WORDS[row.state]} (being taken down)` : STATE_WORDS[row.state]),
        row.owner === null ? "; nobody has it." : `; ${row.owner} has it.`,
      ),
    ),
    h(
      "dl",
      { class: "big-figures" },
      h(
        "div",
        {},
        h("dt", {}, "Rise above ambient"),
        h("dd", {}, degrees(row.riseF, options.unit)),
        h("dd", { class: "more" }, `${perMile(row.slopeFPerMile, options.unit)}, limit ${degrees(row.limitF, options.unit)}`),
      ),
      h(
        "div",
        {},
        h("dt", {}, "Left to act"),
        h("dd", { class: "words" }, leftWords(row, now)),
        h("dd", { class: "more" }, crossingWords(row, now)),
      ),
    ),
    h(
      "div",
      { class: "advice" },
      h("p", {}, h("strong", {}, "Advice "), warning.advice),
      h("p", { class: "caution" }, `${warning.caution} A reading may be too low.`),
    ),
  );
}

function Ahead({ data }: { data: OneWarning }): VNode {
  const { zone } = store;
  const places = [
    ...data.setOuts.map((one) => ({
      miles: one.miles,
      name: one.name,
      what: `set-out place, ${one.carLengths} car lengths${one.chosen ? ": the one advised" : ""}`,
      arrivesMs: one.arrivesMs,
      strong: one.chosen,
    })),
    ...data.sitesAhead.map((one) => ({
      miles: one.miles,
      name: one.name,
      what: one.heard ? "site: heard there since" : "site",
      arrivesMs: one.arrivesMs,
      strong: false,
    })),
  ].sort((a, b) => a.miles - b.miles);
  if (places.length === 0) return h("p", { class: "quiet" }, "Nothing is known ahead: the line ends, or the track is not told.");
  return h(
    "div",
    { class: "scroll", tabIndex: 0, role: "region", "aria-label": "Ahead of the train" },
    h(
      "table",
      {},
      h("caption", {}, "Ahead of the last reading; times if the train keeps the speed it was read at"),
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          h("th", { scope: "col", class: "n" }, "miles on"),
          h("th", { scope: "col" }, "place"),
          h("th", { scope: "col" }, "what"),
          h("th", { scope: "col" }, "there about"),
        ),
      ),
      h(
        "tbody",
        {},
        places.map((one) =>
          h(
            "tr",
            { class: one.strong ? "strong" : "" },
            h("td", { class: "n" }, miles(one.miles)),
            h("th", { scope: "row" }, one.name),
            h("td", {}, one.what),
            h("td", {}, one.arrivesMs === null ? "speed not known" : bothWords(one.arrivesMs, zone)),
          ),
        ),
      ),
    ),
  );
}

function Readings({ data }: { data: OneWarning }): VNode {
  const { options, zone } = store;
  const { unit } = options;
  return h(
    "div",
    { class: "scroll", tabIndex: 0, role: "region", "aria-label": "Every reading of the bearing" },
    h(
      "table",
      {},
      h("caption", {}, `Readings in °${unit} above ambient, as measured; over its side of the train with the scanner’s own bias taken out`),
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          ["mile", "site", "time", "axle", "as measured", "side’s median", "over its side", "scanner bias", "counts?"].map((name, i) =>
            h("th", { scope: "col", class: [0, 3, 4, 5, 6, 7].includes(i) ? "n" : "" }, name),
          ),
        ),
      ),
      h(
        "tbody",
        {},
        data.evidence.map((one) =>
          h(
            "tr",
            { class: one.used === "used" ? "" : "faint" },
            h("td", { class: "n" }, one.miles.toFixed(1)),
            h("th", { scope: "row" }, one.name),
            h("td", { class: "nowrap" }, clockWords(Date.parse(one.time), zone)),
            h("td", { class: "n" }, one.axle === null ? "–" : String(one.axle)),
            h("td", { class: "n" }, h("b", {}, finely(one.riseF, unit))),
            h("td", { class: "n" }, finely(one.sideMedianF, unit)),
            h("td", { class: "n" }, finely(one.leveledF, unit)),
            h("td", { class: "n" }, finely(one.biasF, unit)),
            h("td", {}, one.why),
          ),
        ),
      ),
    ),
  );
}

/** Versions and actions in one order: what the machine said and what people did. */
function Story({ data }: { data: OneWarning }): VNode {
  const { zone } = store;
  const lines: { timeMs: number; node: VNode }[] = [];
  let before = "";
  for (const version of data.versions) {
    const what = `${version.level} ${version.state}`;
    if (what === before) continue;
    before = what;
    const rise = version.riseF === null ? "not measured" : degrees(version.riseF, store.options.unit);
    lines.push({
      timeMs: version.timeMs,
      node: h(
        "span",
        {},
        h(LevelWord, { level: version.level }),
        ` ${STATE_WORDS[version.state]}; ${rise} at ${store.siteName(version.site)}${version.correction ? ", after a late pass" : ""}`,
      ),
    });
  }
  for (const { action } of data.actions)
    lines.push({ timeMs: Date.parse(action.time), node: h("span", {}, h("b", {}, action.by), `: ${actionWords(action)}`) });
  lines.sort((a, b) => b.timeMs - a.timeMs);
  return h(
    "ol",
    { class: "story" },
    lines.map(({ timeMs, node }) => h("li", {}, h("time", { title: fullWords(timeMs, zone) }, clockWords(timeMs, zone)), node)),
  );
}

function Chances({ data }: { data: OneWarning }): VNode {
  const { chances } = data.warning;
  if (Object.values(chances).every((value) => value === 0))
    return h("p", { class: "quiet" }, "Chances were not reckoned: the bearing was not measured at the last site.");
  const rows: [string, number][] = [
    ["reaches the limit before the next site", chances.beforeNextSite],
    ["before the site after that", chances.beforeNextButOne],
    ["it is rising", chances.rising],
    ["warm and steady", chances.steady],
    ["wandering or easing by itself", chances.wandering],
    ["ordinary", chances.healthy],
  ];
  return h(
    "table",
    { class: "narrow" },
    h("caption", {}, "Chances, as the engine reckons them"),
    h(
      "tbody",
      {},
      rows.map(([words, value]) => h("tr", {}, h("th", { scope: "row" }, words), h("td", { class: "n" }, chance(value)))),
    ),
  );
}
