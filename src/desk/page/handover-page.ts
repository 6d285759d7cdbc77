import { useState } from "preact/hooks";
import { conditionWords, deviceWords } from "../../site/condition-words.ts";
import type { Handover } from "../views/handover-shape.ts";
import { useAsked, Waiting } from "./asking.ts";
import { Caution } from "./caution.ts";
import { fullWords, inputOf, instantOf, whenBothWords } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { Events, Open } from "./handover-lists.ts";
import { Load } from "./handover-load.ts";
import { hrefOf } from "./route.ts";
import { store, useStore } from "./store.ts";

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
    h(Caution, {}),
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
    h(
      "ul",
      { class: "sign" },
      ["Handed over by, time", "Taken over by, time"].map((line) => h("li", {}, line)),
    ),
  );
}
