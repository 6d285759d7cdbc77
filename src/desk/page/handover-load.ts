import type { Handover } from "../views/handover-shape.ts";
import { whenBothWords } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { table } from "./handover-lists.ts";
import { store } from "./store.ts";

/** The measures of alarm management, with what each is held against. */
export function Load({ data }: { data: Handover }): VNode {
  const { measures } = data;
  const { zone } = store;
  const row = (name: string, value: string, against: string) =>
    h("tr", {}, h("th", { scope: "row" }, name), h("td", { class: "n" }, h("b", {}, value)), h("td", { class: "quiet" }, against));
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, "Load of the desk: ", measures.judgement),
    h(
      "div",
      { class: "scroll", tabIndex: 0, role: "region", "aria-label": "Load of the desk" },
      h(
        "table",
        {},
        h(
          "caption",
          {},
          `Measures of alarm management (IEC 62682, EEMUA 191), for ${measures.operators} ${measures.operators === 1 ? "person" : "people"} at the desk. A watch is not an alarm.`,
        ),
        h(
          "tbody",
          {},
          row("Warnings that asked for a response", String(measures.alarms), "each rise to warn or limit"),
          row("A person, in 10 minutes", measures.perWindowAndOperator.toFixed(2), "under 1: very likely acceptable"),
          row("A person, a day", measures.perDayAndOperator.toFixed(0), "150 manageable, 300 not"),
          row("Most in 10 minutes", String(measures.mostInWindow), "over 10 begins a flood"),
          row(
            "Floods",
            String(measures.floods.length),
            measures.floods.length === 0
              ? "over 10 in 10 minutes, until under 5"
              : measures.floods.map((one) => `${whenBothWords(one.fromMs, store.now(), zone)}: ${one.alarms}`).join("; "),
          ),
          row("Open over 24 hours", String(measures.stale), "stale: each to be looked at"),
          row("Shelved", String(measures.shelved), "each with its reason and end"),
          row("Not acknowledged", String(measures.unacknowledged), "warn and limit"),
          row(
            "Until acknowledged, median",
            measures.minutesToAcknowledge === null ? "–" : `${measures.minutesToAcknowledge.toFixed(0)} min`,
            "of those acknowledged in this time",
          ),
        ),
      ),
    ),
    h(People, { people: data.operators }),
  );
}

/** A shift that is quiet as a whole may be a flood for one. */
function People({ people }: { people: Handover["operators"] }): VNode | null {
  if (people.length === 0) return null;
  const figures = ["answered", "in 10 min", "a day", "most in 10 min", "floods", "has open", "over 24 h", "shelved", "median answer"];
  const row = (one: Handover["operators"][number]) => {
    const minutes = one.minutesToAnswer === null ? "–" : `${one.minutesToAnswer.toFixed(0)} min`;
    const cells = [
      one.alarms,
      one.perWindow.toFixed(2),
      one.perDay.toFixed(0),
      one.mostInWindow,
      one.floods,
      one.holds,
      one.stale,
      one.shelved,
      minutes,
    ];
    return h(
      "tr",
      {},
      h("th", { scope: "row" }, one.name ?? h("b", {}, "nobody")),
      cells.map((cell) => h("td", { class: "n" }, String(cell))),
      h("td", {}, one.name === null ? "not answered yet" : one.judgement),
    );
  };
  return h(
    "div",
    {},
    h("h3", {}, "Load of each person"),
    table("Load of each person", ["who", ...figures, "load"], people.map(row), figures),
  );
}
