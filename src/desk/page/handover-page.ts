import { useState } from "preact/hooks";
import type { Handover } from "../views/shapes.ts";
import { useAsked, Waiting } from "./asking.ts";
import { bothWords, fullWords, inputOf, instantOf, whenBothWords } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { Events, Open } from "./handover-lists.ts";
import { hrefOf } from "./route.ts";
import { store, useStore } from "./store.ts";
import { conditionWords, deviceWords } from "./trade-words.ts";

const HOUR_MS = 3_600_000;
/** A shift, where nothing else is chosen. */
const SHIFT_H = 8;

/** What the next shift must know: open warnings, what happened, how loaded the desk was. To be printed or taken as a file. */
export function HandoverPage(): VNode {
  const { at, rows, zone } = useStore();
  const [span, setSpan] = useState(() => ({ fromMs: store.now() - SHIFT_H * HOUR_MS, toMs: null as number | null }));
  const toMs = span.toMs ?? Math.ceil(store.now() / 60_000) * 60_000;
  const query = { fromMs: Math.round(span.fromMs), toMs: Math.round(toMs), at };
  const { data, error } = useAsked<Handover>("/api/handover", query, String(rows.version));
  if (data === null) return h(Waiting, { error });
  const set = (change: Partial<typeof span>) => setSpan({ ...span, ...change });
  const time = (name: string, ms: number, put: (ms: number) => void) =>
    h(
      "label",
      {},
      `${name} `,
      h("input", {
        type: "datetime-local",
        value: inputOf(ms, zone),
        onChange: (event: Event) => {
          const chosen = instantOf((event.currentTarget as HTMLInputElement).value, zone);
          if (Number.isFinite(chosen)) put(chosen);
        },
      }),
    );
  const csv = `/api/handover.csv?fromMs=${query.fromMs}&toMs=${query.toMs}${at === null ? "" : `&at=${at}`}`;
  return h(
    "article",
    { class: "handover" },
    h("h1", {}, "Handover"),
    h("p", { class: "quiet" }, `${fullWords(span.fromMs, zone)} to ${fullWords(toMs, zone)}`),
    h(
      "div",
      { class: "tools no-print" },
      time("From", span.fromMs, (ms) => set({ fromMs: Math.min(ms, toMs - 60_000) })),
      time("To", toMs, (ms) => set({ toMs: Math.max(ms, span.fromMs + 60_000) })),
      h(
        "button",
        { type: "button", onClick: () => setSpan({ fromMs: store.now() - SHIFT_H * HOUR_MS, toMs: null }) },
        `Last ${SHIFT_H} hours`,
      ),
      h("button", { type: "button", onClick: () => print() }, "Print"),
      h("a", { class: "button", href: csv, download: "handover.csv" }, "CSV"),
      store.session?.person?.role === "administer" &&
        h("a", { class: "button", href: `/api/audit?fromMs=${query.fromMs}&toMs=${query.toMs}`, download: "desk-actions.jsonl" }, "Audit"),
    ),
    h(Open, { data }),
    h(
      "section",
      { class: "sheet" },
      h("h2", {}, `Sites with something the matter (${data.conditions.length})`),
      data.conditions.length === 0
        ? h("p", { class: "quiet" }, "None.")
        : h(
            "ul",
            { class: "plain" },
            data.conditions.map((one) =>
              h(
                "li",
                {},
                h("a", { href: hrefOf("sites", one.site) }, one.name),
                " ",
                h("b", {}, conditionWords(one.kind)),
                `${one.device === "" ? "" : `, ${deviceWords(one.device)},`} since ${whenBothWords(one.raisedMs, store.now(), zone)}. ${store.readable(one.words)}`,
              ),
            ),
          ),
    ),
    h(Load, { data }),
    h(Events, { data }),
    h("p", { class: "sign" }, "Handed over: ______________________   Taken over: ______________________"),
  );
}

/** The measures of alarm management, with what each is held against. */
function Load({ data }: { data: Handover }): VNode {
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
              : measures.floods.map((one) => `${bothWords(one.fromMs, zone)}: ${one.alarms}`).join("; "),
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
  );
}
