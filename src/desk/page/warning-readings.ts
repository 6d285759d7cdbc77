import type { OneWarning } from "../views/warning-shape.ts";
import { blindWords } from "./blind-words.ts";
import { whenWords } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { store } from "./store.ts";
import { finely } from "./units.ts";

/** Every reading of the bearing, and why it counts or not. */
export function Readings({ data }: { data: OneWarning }): VNode {
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
            h("th", { scope: "row" }, one.name, h("small", {}, blindWords(data.notSeeing, one.site))),
            h("td", { class: "nowrap" }, whenWords(Date.parse(one.time), store.now(), zone)),
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
