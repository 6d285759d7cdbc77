import { useLayoutEffect, useRef, useState } from "preact/hooks";
import { h, type VNode } from "./element.ts";

/** So many things of one height, one below the other. */
export interface Block {
  name: string;
  height: number;
  count: number;
  /** false: a heading among them. */
  isRows: boolean;
  keyOf(index: number): string;
  draw(index: number): VNode | null;
}

interface ListProps {
  label: string;
  blocks: readonly Block[];
  /** A hand or a key is at the list. */
  onTouched(): void;
  /** What to say on paper of so many things that are not on it. */
  left(count: number): VNode;
}

/** Drawn beyond what is seen, so that scrolling never shows a hole. */
const BEYOND_PX = 600;
/** On paper no more than some three hundred rows, some thirty pages; of what lies beyond it is said where it is. */
const PRINTED_PX = 30_000;

/**
 * A list of which only what can be seen is in the page; it scrolls with the page itself. However many rows there are, drawing
 * costs what is seen. Arrow keys go from row to row.
 */
export function VirtualList({ label, blocks, onTouched, left }: ListProps): VNode {
  const root = useRef<HTMLDivElement>(null);
  const [view, setView] = useState({ top: 0, bottom: 1_600, isPaper: false });
  useLayoutEffect(() => {
    let isPrinting = false;
    const measure = () => {
      if (isPrinting) return;
      const box = root.current?.getBoundingClientRect();
      if (box === undefined) return;
      const top = Math.max(0, -box.top - BEYOND_PX);
      const bottom = -box.top + innerHeight + BEYOND_PX;
      const isFar = (a: number, b: number) => Math.abs(a - b) > BEYOND_PX / 3;
      setView((before) =>
        before.isPaper || isFar(before.top, top) || isFar(before.bottom, bottom) ? { top, bottom, isPaper: false } : before,
      );
    };
    // Paper shows what a window would scroll to.
    const print = () => {
      isPrinting = true;
      setView({ top: 0, bottom: PRINTED_PX, isPaper: true });
    };
    const printed = () => {
      isPrinting = false;
      measure();
    };
    measure();
    addEventListener("beforeprint", print);
    addEventListener("afterprint", printed);
    addEventListener("scroll", measure, { passive: true });
    addEventListener("resize", measure);
    return () => {
      removeEventListener("beforeprint", print);
      removeEventListener("afterprint", printed);
      removeEventListener("scroll", measure);
      removeEventListener("resize", measure);
    };
  }, []);
  let y = 0;
  let undrawn = 0;
  const drawn: VNode[] = [];
  for (const block of blocks) {
    const some = drawBlock(block, y, view);
    drawn.push(...some);
    if (block.isRows) undrawn += block.count - some.length;
    y += block.count * block.height;
  }
  if (view.isPaper && undrawn > 0) drawn.push(h("div", { key: "left", class: "item" }, left(undrawn)));
  return h(
    "div",
    {
      ref: root,
      class: "virtual",
      role: "region",
      "aria-label": label,
      style: { "--height": `${y}px` },
      onPointerMove: onTouched,
      onWheel: onTouched,
      onKeyDown: (event: KeyboardEvent) => {
        onTouched();
        walk(event, root.current);
      },
    },
    drawn,
  );
}

/** What of a block can be seen. */
function drawBlock({ height, count, keyOf, draw }: Block, from: number, view: { top: number; bottom: number }): VNode[] {
  const first = Math.max(0, Math.floor((view.top - from) / height));
  const last = Math.min(count - 1, Math.ceil((view.bottom - from) / height));
  const drawn: VNode[] = [];
  for (let i = first; i <= last; i++) {
    drawn.push(
      h("div", { key: keyOf(i), class: "item", style: { "--top": `${from + i * height}px`, "--height": `${height}px` } }, draw(i)),
    );
  }
  return drawn;
}

/** Up and down from row to row. */
function walk(event: KeyboardEvent, root: HTMLElement | null): void {
  if (root === null || (event.key !== "ArrowDown" && event.key !== "ArrowUp")) return;
  const rows = [...root.querySelectorAll<HTMLElement>("[data-row]")];
  const at = rows.findIndex((row) => row === document.activeElement || row.contains(document.activeElement));
  const next = rows[at + (event.key === "ArrowDown" ? 1 : -1)];
  if (at < 0 || next === undefined) return;
  event.preventDefault();
  next.focus();
  next.scrollIntoView({ block: "nearest" });
}
