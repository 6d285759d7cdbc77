import { useLayoutEffect, useRef, useState } from "preact/hooks";
import { h, type VNode } from "./element.ts";

export interface Item<T> {
  height: number;
  value: T;
}

interface ListProps<T> {
  label: string;
  items: readonly Item<T>[];
  keyOf(value: T): string;
  draw(value: T): VNode | null;
  /** A hand or a key is at the list. */
  onTouched(): void;
}

/** Drawn beyond what is seen, so that scrolling never shows a hole. */
const BEYOND_PX = 600;

/** A list of which only what can be seen is in the page; it scrolls with the page itself. Arrow keys go from row to row. */
export function VirtualList<T>({ label, items, keyOf, draw, onTouched }: ListProps<T>): VNode {
  const root = useRef<HTMLDivElement>(null);
  const [view, setView] = useState({ top: 0, bottom: 1_600 });
  useLayoutEffect(() => {
    const measure = () => {
      const box = root.current?.getBoundingClientRect();
      if (box === undefined) return;
      const top = Math.max(0, -box.top - BEYOND_PX);
      const bottom = -box.top + innerHeight + BEYOND_PX;
      setView((before) =>
        Math.abs(before.top - top) > BEYOND_PX / 3 || Math.abs(before.bottom - bottom) > BEYOND_PX / 3 ? { top, bottom } : before,
      );
    };
    measure();
    addEventListener("scroll", measure, { passive: true });
    addEventListener("resize", measure);
    return () => {
      removeEventListener("scroll", measure);
      removeEventListener("resize", measure);
    };
  }, []);
  let y = 0;
  const drawn: VNode[] = [];
  for (const { height, value } of items) {
    if (y + height >= view.top && y <= view.bottom) {
      drawn.push(h("div", { key: keyOf(value), class: "item", style: { top: `${y}px`, height: `${height}px` } }, draw(value)));
    }
    y += height;
  }
  return h(
    "div",
    {
      ref: root,
      class: "virtual",
      role: "region",
      "aria-label": label,
      style: { height: `${y}px` },
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
