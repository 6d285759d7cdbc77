import type { Row } from "../board/row.ts";
import { h, type VNode } from "./element.ts";
import { isStanding } from "./since-reading.ts";

/** The strip shows so many miles from the site of the reading; what lies beyond is cut with an arrow. */
const MILES = 60;
const WIDTH = 300;
const HEIGHT = 22;
const MIDDLE = 13;
const HOUR_MS = 3_600_000;

/**
 * What is left, as a picture: from the site where it was read (left edge) the train runs along the line; the place to set out
 * is a triangle, the stretch where the limit could be reached a bar from its low to its high end. Our own.
 */
export function DistanceStrip({ row, nowMs }: { row: Row; nowMs: number }): VNode {
  const x = (miles: number) => Math.max(0, Math.min(WIDTH, (miles / MILES) * WIDTH));
  // A train that was stopped is shown where it was then, not where it would be by now.
  const untilMs = isStanding(row) && row.done !== null ? Math.min(nowMs, row.done.timeMs) : nowMs;
  const run = row.mph === null ? 0 : Math.max(0, ((untilMs - row.timeMs) / HOUR_MS) * row.mph);
  const isGone = run > MILES;
  const { setOut } = row;
  // At the limit nothing is left to reach.
  const crossing = row.level === "limit" ? null : row.crossing;
  return h(
    "svg",
    { class: "strip-miles", viewBox: `0 0 ${WIDTH} ${HEIGHT}`, preserveAspectRatio: "none", "aria-hidden": "true" },
    h("path", { class: "way", d: `M0 ${MIDDLE}H${WIDTH}` }),
    h("path", { class: "ticks", d: [0, 10, 20, 30, 40, 50].map((mile) => `M${x(mile)} ${MIDDLE - 2}v4`).join("") }),
    crossing !== null &&
      h("rect", {
        class: `reach ${row.level}`,
        x: x(crossing.low),
        y: MIDDLE - 4,
        width: Math.max(3, x(crossing.high) - x(crossing.low)),
        height: 8,
      }),
    crossing !== null && h("path", { class: `reach-low ${row.level}`, d: `M${x(crossing.low)} ${MIDDLE - 8}v16` }),
    setOut !== null && h("path", { class: "set-out", d: `M${x(setOut.miles)} ${MIDDLE - 2}l-6 -10h12z` }),
    h("circle", { class: isGone ? "train gone" : "train", cx: x(run), cy: MIDDLE, r: 4.5 }),
  );
}
