import { actionWords } from "../views/action-words.ts";
import type { OneWarning } from "../views/warning-shape.ts";
import { fullWords, whenWords } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { LevelWord } from "./level-mark.ts";
import { differenceWords } from "./limit-words.ts";
import { STATE_WORDS } from "./now-row.ts";
import { store } from "./store.ts";
import { chance, degrees } from "./units.ts";

/** Versions and actions in one order: what the machine said and what people did. */
export function Story({ data }: { data: OneWarning }): VNode {
  const { zone } = store;
  const lines: { timeMs: number; node: VNode }[] = [];
  let before = "";
  for (const version of data.versions) {
    const what = `${version.level} ${version.state}`;
    if (what === before) continue;
    before = what;
    const rise = version.riseF === null ? "not measured" : degrees(version.riseF, store.options.unit);
    const over = version.axleDifference === null ? "" : ` (${differenceWords(version.axleDifference, store.options.unit)})`;
    lines.push({
      timeMs: version.timeMs,
      node: h(
        "span",
        {},
        h(LevelWord, { level: version.level }),
        ` ${STATE_WORDS[version.state]}; ${rise}${over} at ${store.siteName(version.site)}${version.correction ? ", after a late pass" : ""}`,
      ),
    });
  }
  for (const { action } of data.actions)
    lines.push({ timeMs: Date.parse(action.time), node: h("span", {}, h("b", {}, action.by), `: ${store.readable(actionWords(action))}`) });
  lines.sort((a, b) => b.timeMs - a.timeMs);
  return h(
    "ol",
    { class: "story" },
    lines.map(({ timeMs, node }) => h("li", {}, h("time", { title: fullWords(timeMs, zone) }, whenWords(timeMs, store.now(), zone)), node)),
  );
}

/** How sure the engine is of what. */
export function Chances({ data }: { data: OneWarning }): VNode {
  const { chances } = data.warning;
  if (Object.values(chances).every((value) => value === 0))
    return h("p", { class: "quiet" }, "Chances were not reckoned: the bearing was not measured at the last site.");
  // What was read at or over the limit has no chance left of reaching it.
  const isReached = data.row.level === "limit" && (data.row.riseF ?? 0) >= data.row.limitF;
  const reaches: [string, number][] = isReached
    ? []
    : [
        ["reaches the limit before the next site", chances.beforeNextSite],
        ["before the site after that", chances.beforeNextButOne],
      ];
  const rows: [string, number][] = [
    ...reaches,
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
