import { shortPlaces } from "../../pass/short-place.ts";
import type { Train } from "../views/train-shape.ts";
import { useAsked, Waiting } from "./asking.ts";
import { blindWords } from "./blind-words.ts";
import { Caution } from "./caution.ts";
import { agoWords, bothWords } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { waysOf } from "./expected-ways.ts";
import { LevelWord } from "./level-mark.ts";
import { STATE_WORDS } from "./now-row.ts";
import { hrefOf } from "./route.ts";
import { store, useStore } from "./store.ts";
import { flagWords } from "./trade-words.ts";
import { finely, inUnit, perMile } from "./units.ts";
import { VehicleStrip } from "./vehicle-strip.ts";

/** A train: its passes, how surely they are its own, the sites that missed it, its bearings ranked. */
export function TrainPage({ id }: { id: string }): VNode {
  const { at, pointsVersion, rows } = useStore();
  const { data, error } = useAsked<Train>("/api/train", { journey: id, at }, `${pointsVersion} ${rows.version}`);
  if (data === null) return h(Waiting, { error });
  return h(
    "article",
    {},
    h("p", { class: "crumb no-print" }, h("a", { href: hrefOf("line") }, "The line"), " / a train"),
    h(
      "h1",
      {},
      data.train === null ? "Train without an id" : `Train ${data.train}`,
      data.key && h("span", { class: "key-train" }, "key train"),
    ),
    h("p", {}, whereWords(data)),
    h(Caution, {}),
    data.rows.length > 0 &&
      h(
        "section",
        { class: "sheet" },
        h("h2", {}, "Its warnings"),
        h(
          "ul",
          { class: "plain" },
          data.rows.map((row) =>
            h(
              "li",
              {},
              h("a", { href: hrefOf("warning", row.id) }, h(LevelWord, { level: row.level }), row.place),
              `, ${STATE_WORDS[row.state]}`,
              store.rows
                .elsewhere(row)
                .map((one) =>
                  h(
                    "span",
                    {},
                    "; same bearing: ",
                    h("a", { href: hrefOf("warning", one.id) }, `${one.level} at ${store.siteName(one.site)}`),
                  ),
                ),
            ),
          ),
        ),
      ),
    h("section", { class: "sheet" }, h("h2", {}, "Its bearings at the last sites"), h(VehicleStrip, { legs: data.strip, focus: null })),
    h(Ranked, { data }),
    h(Legs, { data }),
  );
}

/** "402 axles, last heard at Dunmere 5 min ago. Expected at Coldrill about 07:52: dead since 05:08." */
function whereWords({ legs, axles, expected, notSeeing }: Train): string {
  const last = legs.at(-1);
  const at = last === undefined ? "" : `, last heard at ${last.name} ${agoWords(last.timeMs, store.now())}`;
  const about = (one: Train["expected"][number]) =>
    `${one.name} about ${bothWords(one.timeMs, store.zone)}${blindWords(notSeeing, one.site)}`;
  const ways = waysOf(expected).map((way) => way.map(about).join(", then "));
  return `${axles} axles${at}. ${ways.length === 0 ? "Not expected anywhere next, as far as is known." : `Expected at ${ways.join("; or at ")}.`}`;
}

function Ranked({ data }: { data: Train }): VNode {
  const { unit } = store.options;
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, "Hottest bearings over their side of the train"),
    h(
      "div",
      { class: "scroll", tabIndex: 0, role: "region", "aria-label": "Bearings ranked" },
      h(
        "table",
        { class: "ranked" },
        h(
          "caption",
          {},
          `At the last site, in °${unit}. The slope is a plain line through the last readings over the side; what it means is for the warnings to say.`,
        ),
        h(
          "thead",
          {},
          h(
            "tr",
            {},
            h("th", { scope: "col" }, "bearing"),
            h("th", { scope: "col", class: "n" }, "as measured"),
            h("th", { scope: "col", class: "n" }, "over its side"),
            h("th", { scope: "col", class: "n" }, "plain slope"),
            h("th", { scope: "col" }, "earlier readings"),
            h("th", { scope: "col" }, "warning"),
          ),
        ),
        h(
          "tbody",
          {},
          data.ranked.map((one) =>
            h(
              "tr",
              {},
              h("th", { scope: "row" }, shortPlaces(one.place)),
              h("td", { class: "n" }, h("b", {}, finely(one.riseF, unit))),
              h("td", { class: "n" }, finely(one.excessF, unit)),
              h("td", { class: "n" }, one.slopeFPerMile === null ? "–" : perMile(one.slopeFPerMile, unit)),
              h("td", {}, h(Spark, { readings: one.readings })),
              h("td", {}, one.warning !== null && h("a", { href: hrefOf("warning", one.warning) }, "open")),
            ),
          ),
        ),
      ),
    ),
  );
}

const SPARK = { width: 110, height: 24, topF: 200 };

/** The bearing's readings, oldest first, on one scale for all: a hot one stands out by height. */
function Spark({ readings }: { readings: readonly (number | null)[] }): VNode {
  const { unit } = store.options;
  const step = SPARK.width / Math.max(1, readings.length);
  const words = readings.map((one) => (one === null ? "–" : String(Math.floor(inUnit(one, unit))))).join(", ");
  return h(
    "span",
    { class: "spark" },
    h(
      "svg",
      { width: SPARK.width, height: SPARK.height, "aria-hidden": "true" },
      readings.map((one, i) => {
        if (one === null) return h("path", { class: "missing", d: `M${i * step + 2} ${SPARK.height - 2}h${Math.max(2, step - 5)}` });
        const high = Math.max(1, Math.min(1, one / SPARK.topF) * SPARK.height);
        return h("rect", { x: i * step + 1, y: SPARK.height - high, width: Math.max(2, step - 3), height: high });
      }),
    ),
    h("small", {}, words),
  );
}

function Legs({ data }: { data: Train }): VNode {
  const { zone } = store;
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, "Its passes, and how sure it is that they are its own"),
    h(
      "div",
      { class: "scroll", tabIndex: 0, role: "region", "aria-label": "Passes of the train" },
      h(
        "table",
        {},
        h(
          "thead",
          {},
          h(
            "tr",
            {},
            ["site", "time", "mile", "track", "axles", "mph", "joined", "sites that missed it", "what is odd"].map((name) =>
              h("th", { scope: "col", class: ["mile", "axles", "mph"].includes(name) ? "n" : "" }, name),
            ),
          ),
        ),
        h(
          "tbody",
          {},
          data.legs
            .toReversed()
            .map((leg) =>
              h(
                "tr",
                {},
                h("th", { scope: "row" }, leg.name, h("small", {}, ` ${leg.milepost.toFixed(1)}${blindWords(data.notSeeing, leg.site)}`)),
                h("td", {}, bothWords(leg.timeMs, zone)),
                h("td", { class: "n" }, leg.miles.toFixed(1)),
                h("td", {}, leg.track),
                h("td", { class: "n" }, String(leg.axles)),
                h("td", { class: "n" }, leg.mph === null ? "–" : leg.mph.toFixed(0)),
                h("td", {}, joinWords(leg)),
                h("td", {}, leg.over.length === 0 ? "none" : h("b", {}, leg.over.map(missedWords(data)).join(", "))),
                h("td", {}, oddWords(leg)),
              ),
            ),
        ),
      ),
    ),
  );
}

/** A site that missed the train by its name, with what is the matter there now. */
function missedWords({ notSeeing }: Train): (name: string) => string {
  return (name) => {
    const blind = notSeeing.find((one) => store.siteName(one.site) === name);
    return blind === undefined ? name : `${name}${blindWords(notSeeing, blind.site)}`;
  };
}

function oddWords({ flags, directionDoubted, doubt }: Train["legs"][number]): string {
  const odd = flags.map(flagWords);
  if (directionDoubted) odd.push("direction doubted");
  if (doubt !== null) odd.push(store.readable(doubt));
  return odd.join("; ") || "nothing";
}

function joinWords({ join }: Train["legs"][number]): string {
  if (join === null) return "first of this journey";
  const parts = [join.sure];
  if (join.flipped) parts.push("ran the other way round");
  if (join.dropped > 0) parts.push(`${join.dropped} axles fewer`);
  if (join.added > 0) parts.push(`${join.added} axles more`);
  parts.push(...join.doubts.map((one) => store.readable(one)));
  return parts.join("; ");
}
