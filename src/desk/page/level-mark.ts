import type { Level } from "../../warning/warning.ts";
import { h, type VNode } from "./element.ts";

/**
 * Each level by shape, word and place as well as colour: a hollow ring to watch, a filled triangle to warn, a filled diamond
 * with a bar across at the limit: the same shapes as in the replay's report, and our own.
 */
export function LevelMark({ level, size = 22 }: { level: Level; size?: number }): VNode {
  return h(
    "svg",
    { class: `mark ${level}`, width: size, height: size, viewBox: "-12 -12 24 24", "aria-hidden": "true" },
    levelShape(level, 0, 0, 9),
  );
}

/** The same, inside a drawing. */
export function levelShape(level: Level, x: number, y: number, size: number): VNode {
  if (level === "watch") return h("circle", { class: "shape watch", cx: x, cy: y, r: size * 0.72 });
  if (level === "warn") return h("path", { class: "shape warn", d: `M${x} ${y - size}L${x + size} ${y + size * 0.75}H${x - size}Z` });
  const d = size * 1.15;
  return h(
    "g",
    {},
    h("path", { class: "shape limit", d: `M${x} ${y - d}L${x + d} ${y}L${x} ${y + d}L${x - d} ${y}Z` }),
    h("path", { class: "shape-bar", d: `M${x - d * 0.5} ${y}H${x + d * 0.5}` }),
  );
}

export function LevelWord({ level }: { level: Level }): VNode {
  return h("span", { class: `level ${level}` }, h(LevelMark, { level }), h("span", {}, level));
}
