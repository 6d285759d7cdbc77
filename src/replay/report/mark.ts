import type { Level } from "../../warning/warning.ts";
import { type Markup, markup, px } from "./markup.ts";

export const LEVELS: readonly Level[] = ["limit", "warn", "watch"];

/** Each level has its own shape as well as its word and colour: hollow ring, filled triangle, filled diamond with a bar. */
export function levelMark(level: Level, x: number, y: number, size = 6): Markup {
  const s = size;
  if (level === "watch") return markup`<circle class="mark watch" cx="${px(x)}" cy="${px(y)}" r="${px(s * 0.8)}"/>`;
  if (level === "warn") {
    const path = `M${px(x)} ${px(y - s * 1.15)}L${px(x + s * 1.1)} ${px(y + s * 0.8)}H${px(x - s * 1.1)}Z`;
    return markup`<path class="mark warn" d="${path}"/>`;
  }
  const d = s * 1.3;
  const path = `M${px(x)} ${px(y - d)}L${px(x + d)} ${px(y)}L${px(x)} ${px(y + d)}L${px(x - d)} ${px(y)}Z`;
  const bar = `M${px(x - d * 0.5)} ${px(y)}H${px(x + d * 0.5)}`;
  return markup`<path class="mark limit" d="${path}"/><path class="mark-bar" d="${bar}"/>`;
}

/** The level as a word with its shape, for text and tables. */
export function levelTag(level: Level): Markup {
  return markup`<span class="tag ${level}"><svg viewBox="0 0 18 18" aria-hidden="true">${levelMark(level, 9, 9)}</svg>${level}</span>`;
}
