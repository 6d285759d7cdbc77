import type { OneWarning } from "../views/warning-shape.ts";
import { blindWords } from "./blind-words.ts";
import { agoWords, bothWords, clockWords } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { STATE_WORDS } from "./now-row.ts";
import { hrefOf } from "./route.ts";
import { sinceReading } from "./since-reading.ts";
import { store } from "./store.ts";
import { degrees, miles } from "./units.ts";

/** The advice is of its reading: what no longer holds of it by now is said beside it. */
export function SinceThen({ data }: { data: OneWarning }): VNode | null {
  const { zone } = store;
  const { row } = data;
  const now = store.now();
  const since = sinceReading(data, now);
  if (since === null) return null;
  const { behind, isSure, heardAt, next, isUnknown } = since;
  const names = behind.map((one) => one.name).join(", ");
  const was = heardAt === null ? "" : `The train was heard at ${heardAt} since. `;
  const places =
    behind.length === 0
      ? "How far the train ran since then is not known: its speed was not measured. "
      : isSure
        ? `${names} ${behind.length === 1 ? "lies" : "lie"} behind it. `
        : `Unless the train stopped, ${names} ${behind.length === 1 ? "lies" : "lie"} behind it by now. `;
  const arrives = next === null || next.arrivesMs === null ? "" : `, there about ${clockWords(next.arrivesMs, zone)}`;
  const goesOn =
    next === null
      ? noneWords(row)
      : `${isUnknown ? "Known ahead" : "Next set-out place"}: ${next.name}, ${miles(next.miles)} from ${store.siteName(row.site)}${arrives}.`;
  return h("p", { class: "since" }, h("strong", {}, `Said ${agoWords(row.timeMs, now)}. `), was, places, goesOn);
}

/** Up to where a set-out place was looked for, as the engine does. */
function noneWords({ level, crossing }: OneWarning["row"]): string {
  if (level === "limit") return "The limit was reached, so no set-out place is in time: stop the train.";
  const upTo = crossing === null ? "its next site" : "the limit could be reached";
  return `No set-out place is known that it would come to before ${upTo}${level === "watch" ? "." : ": stop the train."}`;
}

/** The same bearing has a warning in each corridor that it runs through: what is done about one is not done about the other. */
export function Elsewhere({ data }: { data: OneWarning }): VNode | null {
  const others = store.rows.elsewhere(data.row);
  if (others.length === 0) return null;
  const now = store.now();
  return h(
    "p",
    { class: "since" },
    h("strong", {}, "Same bearing, other corridor: "),
    others.map((one, at) => [
      at > 0 && "; ",
      h(
        "a",
        { href: hrefOf("warning", one.id) },
        `${one.level} at ${store.siteName(one.site)}, ${degrees(one.riseF, store.options.unit)}, ${agoWords(one.readMs ?? one.timeMs, now)} (${STATE_WORDS[one.state]})`,
      ),
    ]),
    " Each is acknowledged by itself.",
  );
}

/** Set-out places and sites ahead, in order, with what can no longer be counted on. */
export function Ahead({ data }: { data: OneWarning }): VNode {
  const { zone } = store;
  const since = sinceReading(data, store.now());
  const behind = new Set(since?.behind.map((one) => one.name));
  const places = [
    ...data.setOuts.map((one) => ({
      miles: one.miles,
      name: one.name,
      what: `set-out place, room for ${one.carLengths} cars${one.chosen ? ": the one advised" : ""}${behindWords(behind.has(one.name), since?.isSure)}`,
      arrivesMs: one.arrivesMs,
      strong: one.chosen && !behind.has(one.name),
      isBehind: behind.has(one.name),
    })),
    ...data.sitesAhead.map((one) => ({
      miles: one.miles,
      name: one.name,
      what: `site${one.heard ? ": heard there since" : ""}${blindWords(data.notSeeing, one.site)}`,
      arrivesMs: one.arrivesMs,
      strong: false,
      isBehind: one.heard,
    })),
  ].sort((a, b) => a.miles - b.miles);
  if (places.length === 0) return h("p", { class: "quiet" }, "Nothing is known ahead: the line ends, or the track is not told.");
  const speed = data.mph === null ? "its speed was not measured" : `times if the train keeps its ${data.mph.toFixed(0)} mph`;
  return h(
    "div",
    { class: "scroll", tabIndex: 0, role: "region", "aria-label": "Ahead of the train" },
    h(
      "table",
      {},
      h("caption", {}, `From ${store.siteName(data.row.site)} on, where it was read last; ${speed}`),
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
            { class: one.strong ? "strong" : one.isBehind ? "faint" : "" },
            h("td", { class: "n" }, one.miles.toFixed(1)),
            h("th", { scope: "row" }, one.name),
            h("td", {}, one.what),
            h("td", { class: "nowrap" }, one.arrivesMs === null ? "not known" : bothWords(one.arrivesMs, zone)),
          ),
        ),
      ),
    ),
  );
}

function behindWords(isBehind: boolean, isSure: boolean | undefined): string {
  return isBehind ? (isSure ? ", behind the train" : ", behind the train unless it stopped") : "";
}
