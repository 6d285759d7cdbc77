import { useRef, useState } from "preact/hooks";
import { conditionWords } from "../../site/condition-words.ts";
import { NEEDS, type Need } from "../board/urgency.ts";
import { canSound } from "./announcer.ts";
import { Caution } from "./caution.ts";
import { clockWords, whenWords } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { NowRow } from "./now-row.ts";
import { hrefOf } from "./route.ts";
import { store, useStore, useTicking } from "./store.ts";
import { type Block, VirtualList } from "./virtual-list.ts";

/** A hand that moved or a key pressed so lately holds the order: nothing jumps away from under it. */
const HOLD_MS = 4_000;

const HEADINGS: Record<Need, { title: string; words: string }> = {
  decide: { title: "Decide now", words: "stop, set out or say why not" },
  "in-hand": { title: "In hand", words: "acknowledged, and the crew was told" },
  watch: { title: "Watch", words: "look again after the next site" },
  aside: { title: "Put aside", words: "shelved, or out of service" },
  closed: { title: "Closed", words: "" },
};

/** Widths at which now.css lays the rows out anew. */
const NARROW_PX = 720;
const WIDE_PX = 1_180;

/** Heights in pixels, for a screen, a small one and a phone; the list must know them without measuring ten thousand rows. */
const HEIGHTS = {
  wide: { decide: 136, other: 96, heading: 52, none: 40 },
  medium: { decide: 156, other: 104, heading: 52, none: 40 },
  narrow: { decide: 296, other: 200, heading: 48, none: 40 },
};

/** The order as it stood when a hand came to the list: also under which heading. null: nobody is there. */
interface Held {
  ids: string[];
  counts: Record<Need, number>;
}

/** What needs a decision, in the order of what is left to act on. */
export function NowPage(): VNode {
  const { rows, loaded, complete, siteNotes, zone, at } = useStore();
  useTicking(1_000);
  const touchedAt = useRef(Number.NEGATIVE_INFINITY);
  const held = useRef<Held | null>(null);
  const [, release] = useState(0);
  if (performance.now() - touchedAt.current >= HOLD_MS) held.current = null;
  const touched = () => {
    touchedAt.current = performance.now();
    held.current ??= { ids: rows.ids(), counts: rows.counts() };
  };
  const needs = rows.counts();
  const waiting = held.current === null ? 0 : rows.size - held.current.ids.length;
  return h(
    "div",
    { class: "now" },
    h(
      "div",
      { class: "now-head" },
      h("h1", {}, headline(needs, loaded)),
      h(
        "p",
        { class: "counts" },
        loaded && `${needs["in-hand"]} in hand, ${needs.watch} to watch, ${needs.aside} put aside.`,
        h("span", { class: "quiet" }, ` Rises are above ambient. As of ${clockWords(store.now(), zone)}.`),
        // Keeps its room, so that the first click does not move what is clicked.
        h("span", { class: canSound() ? "no-sound on" : "no-sound" }, " No sound until the first click or key."),
      ),
      waiting > 0 &&
        h(
          "button",
          {
            type: "button",
            class: "news",
            onClick: () => {
              touchedAt.current = Number.NEGATIVE_INFINITY;
              release((count) => count + 1);
            },
          },
          `${waiting} new: put in order`,
        ),
    ),
    h(Caution, {}),
    h(
      "div",
      { class: "now-body" },
      h(VirtualList, {
        label: "Warnings in the order of what is left to act on",
        blocks: blocksOf(held.current, needs, loaded && complete),
        onTouched: touched,
        left: notPrinted,
      }),
      loaded && h(SiteNotes, { notes: siteNotes, at }),
    ),
  );
}

function headline(needs: Record<Need, number>, isLoaded: boolean): string {
  // "Nothing to decide" must never be said of what has not been looked at.
  if (!isLoaded) return "Loading what is to decide now …";
  if (needs.decide === 0) return "Nothing to decide now";
  return needs.decide === 1 ? "1 warning to decide now" : `${needs.decide} warnings to decide now`;
}

/** A heading for each need that has rows, and its rows. */
function blocksOf(held: Held | null, needs: Record<Need, number>, complete: boolean): Block[] {
  const heights = innerWidth < NARROW_PX ? HEIGHTS.narrow : innerWidth <= WIDE_PX ? HEIGHTS.medium : HEIGHTS.wide;
  const counts = held?.counts ?? needs;
  const idAt = (index: number) => held?.ids[index] ?? store.rows.idAt(index);
  const blocks: Block[] = [];
  let from = 0;
  for (const need of NEEDS) {
    if (need === "closed") continue;
    const count = counts[need];
    const first = from;
    from += count;
    if (count === 0 && need !== "decide") continue;
    blocks.push(single(`heading ${need}`, heights.heading, () => heading(need, needs[need])));
    if (count === 0) {
      const words = complete ? "No warning asks for a decision." : "Loading …";
      blocks.push(single("none", heights.none, () => h("p", { class: "none quiet" }, words)));
    }
    blocks.push({
      name: need,
      height: need === "decide" ? heights.decide : heights.other,
      count,
      isRows: true,
      keyOf: (index) => idAt(first + index),
      draw: (index) => {
        const row = store.rows.get(idAt(first + index));
        return row === undefined ? null : h(NowRow, { row, need });
      },
    });
  }
  return blocks;
}

function single(name: string, height: number, draw: () => VNode): Block {
  return { name, height, count: 1, isRows: false, keyOf: () => name, draw };
}

function heading(need: Need, count: number): VNode {
  const { title, words } = HEADINGS[need];
  return h("h2", { class: `need ${need}` }, title, h("span", { class: "count" }, String(count)), h("small", {}, words));
}

/** Paper that ends in silence would pass for all there is. */
function notPrinted(count: number): VNode {
  return h(
    "p",
    { class: "not-printed" },
    h("strong", {}, `${count} more open warnings are not on this paper. `),
    "All of them are on Now, and as a file under Handover, CSV.",
  );
}

function SiteNotes({ notes, at }: { notes: typeof store.siteNotes; at: number | null }): VNode | null {
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
              h("strong", {}, ` ${conditionWords(note.kind)}`),
              h("span", { class: "quiet" }, ` since ${whenWords(note.raisedMs, store.now(), zone)}`),
            ),
          ),
        ),
  );
}
