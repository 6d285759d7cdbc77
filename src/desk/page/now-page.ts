import { useRef, useState } from "preact/hooks";
import type { Row } from "../board/row.ts";
import { NEEDS, type Need, needOf } from "../board/urgency.ts";
import { clockWords } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { NowRow } from "./now-row.ts";
import { hrefOf } from "./route.ts";
import { store, useStore, useTicking } from "./store.ts";
import { type Item, VirtualList } from "./virtual-list.ts";

/** A hand that moved or a key pressed so lately holds the order: nothing jumps away from under it. */
const HOLD_MS = 4_000;

const HEADINGS: Record<Need, { title: string; words: string }> = {
  decide: { title: "Decide now", words: "stop, set out or say why not" },
  "in-hand": { title: "In hand", words: "acknowledged, and the crew was told" },
  watch: { title: "Watch", words: "look again after the next site" },
  aside: { title: "Put aside", words: "shelved, or out of service" },
  closed: { title: "Closed", words: "" },
};

/** Heights in pixels, for a screen and for a phone; the list must know them without measuring ten thousand rows. */
const HEIGHTS = {
  wide: { decide: 116, other: 92, heading: 52, none: 40 },
  narrow: { decide: 300, other: 172, heading: 48, none: 40 },
};

/** Where a row stands while the order is held: also under which heading. */
interface Held {
  id: string;
  need: Need;
}

type Entry = { kind: "heading"; need: Need; count: number } | ({ kind: "row" } & Held) | { kind: "none"; words: string };

/** What needs a decision, in the order of what is left to act on. */
export function NowPage(): VNode {
  const { rows, complete, siteNotes, zone, at, session } = useStore();
  useTicking(1_000);
  const hold = useRef({ at: Number.NEGATIVE_INFINITY, places: [] as Held[] });
  const [, release] = useState(0);
  const isHeld = performance.now() - hold.current.at < HOLD_MS;
  if (!isHeld) hold.current.places = rows.rows().map((row) => ({ id: row.id, need: needOf(row) }));
  const waiting = isHeld ? rows.size - hold.current.places.length : 0;
  const touched = () => {
    hold.current.at = performance.now();
  };
  const needs = countsOf(rows.rows());
  const isNarrow = innerWidth < 720;
  const items = itemsOf(hold.current.places, needs, isNarrow, complete);
  return h(
    "div",
    { class: "now" },
    h(
      "div",
      { class: "now-head" },
      h("h1", {}, headline(needs)),
      h(
        "p",
        { class: "counts" },
        `${needs["in-hand"]} in hand, ${needs.watch} to watch, ${needs.aside} put aside.`,
        h("span", { class: "quiet" }, ` As of ${clockWords(store.now(), zone)}.`),
      ),
      waiting > 0 &&
        h(
          "button",
          {
            type: "button",
            class: "news",
            onClick: () => {
              hold.current.at = Number.NEGATIVE_INFINITY;
              release((count) => count + 1);
            },
          },
          `${waiting} new: put in order`,
        ),
    ),
    h(
      "div",
      { class: "now-body" },
      h(VirtualList<Entry>, {
        label: "Warnings in the order of what is left to act on",
        items,
        keyOf: (entry) => (entry.kind === "row" ? entry.id : entry.kind === "heading" ? `heading ${entry.need}` : "none"),
        draw: drawEntry,
        onTouched: touched,
      }),
      h(SiteNotes, { notes: siteNotes, canOpen: session !== null, at }),
    ),
  );
}

function headline(needs: Record<Need, number>): string {
  if (needs.decide === 0) return "Nothing to decide now";
  return needs.decide === 1 ? "1 warning to decide now" : `${needs.decide} warnings to decide now`;
}

function countsOf(rows: readonly Row[]): Record<Need, number> {
  const counts: Record<Need, number> = { decide: 0, "in-hand": 0, watch: 0, aside: 0, closed: 0 };
  for (const row of rows) counts[needOf(row)]++;
  return counts;
}

function itemsOf(shown: readonly Held[], needs: Record<Need, number>, isNarrow: boolean, complete: boolean): Item<Entry>[] {
  const heights = isNarrow ? HEIGHTS.narrow : HEIGHTS.wide;
  const items: Item<Entry>[] = [];
  for (const need of NEEDS) {
    if (need === "closed") continue;
    const here = shown.filter((one) => one.need === need);
    if (here.length === 0 && need !== "decide") continue;
    items.push({ height: heights.heading, value: { kind: "heading", need, count: needs[need] } });
    if (here.length === 0)
      items.push({ height: heights.none, value: { kind: "none", words: complete ? "No warning asks for a decision." : "Loading …" } });
    for (const { id } of here) {
      items.push({ height: need === "decide" ? heights.decide : heights.other, value: { kind: "row", id, need } });
    }
  }
  return items;
}

function drawEntry(entry: Entry): VNode | null {
  if (entry.kind === "none") return h("p", { class: "none quiet" }, entry.words);
  if (entry.kind === "heading") {
    const { title, words } = HEADINGS[entry.need];
    return h("h2", { class: `need ${entry.need}` }, title, h("span", { class: "count" }, String(entry.count)), h("small", {}, words));
  }
  const row = store.rows.get(entry.id);
  return row === undefined ? null : h(NowRow, { row, need: entry.need });
}

function SiteNotes({ notes, at }: { notes: typeof store.siteNotes; canOpen: boolean; at: number | null }): VNode | null {
  const { zone } = store;
  if (at !== null && notes.length === 0) return null;
  return h(
    "aside",
    { class: "site-notes", "aria-label": "Sites that do not see, or not well" },
    h("h2", {}, "Sites", h("span", { class: "count" }, String(notes.length))),
    notes.length === 0
      ? h("p", { class: "quiet" }, "No site has anything the matter.")
      : h(
          "ul",
          {},
          notes.map((note) =>
            h(
              "li",
              { class: note.kind },
              h("a", { href: hrefOf("sites", note.site) }, note.name),
              h("strong", {}, ` ${note.kind}`),
              h("span", { class: "quiet" }, ` since ${clockWords(note.raisedMs, zone)}`),
            ),
          ),
        ),
  );
}
