import { useLayoutEffect, useRef } from "preact/hooks";
import type { StripLeg } from "../views/strip-shape.ts";
import { clockWords } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { levelShape } from "./level-mark.ts";
import { hrefOf } from "./route.ts";
import { store, useStore } from "./store.ts";
import { degrees } from "./units.ts";

/** Axles in one row of the strip; a long train goes on in the next. */
const AXLES_A_ROW = 132;
const CELL = 7;
const BEARING_HIGH = 18;
const GAP = 3;
const ROW_HIGH = 2 * BEARING_HIGH + GAP + 30;
const PAD = 46;

/** Steps of warmth, °F above ambient: seven greys that end in the level's own colour would hide the levels, so they stay grey. */
const STEPS_F = [30, 50, 75, 100, 130, 170];
/** How far a bar of each step reaches, so that warmth is told by shape as well as by grey. */
const BAR_HIGH = [4, 6, 8, 10, 13, 15, BEARING_HIGH];

/**
 * The train as a strip of vehicles: each bearing a bar away from the middle, the train's left side up, its right side down, longer
 * and darker the hotter. One hot bearing is one spike, hot brakes a block on both sides of a car, a sick side a comb on one side.
 */
export function VehicleStrip({ legs, focus }: { legs: readonly StripLeg[]; focus: string | null }): VNode {
  const { options } = useStore();
  return h(
    "div",
    { class: "strips" },
    legs.map((leg) => h(Leg, { leg, focus, key: leg.pass })),
    h(
      "ul",
      { class: "legend" },
      [0, ...STEPS_F].map((from, i) =>
        h(
          "li",
          {},
          h(
            "svg",
            { class: "vehicles", width: 14, height: BEARING_HIGH, viewBox: `0 0 14 ${BEARING_HIGH}`, "aria-hidden": "true" },
            h("rect", { class: `heat h${i}`, width: 14, y: BEARING_HIGH - (BAR_HIGH[i] ?? 0), height: BAR_HIGH[i] }),
          ),
          i === 0 ? `under ${degrees(STEPS_F[0] ?? 0, options.unit)}` : `from ${degrees(from, options.unit)}`,
        ),
      ),
      h(
        "li",
        {},
        h(
          "svg",
          { class: "vehicles", width: 18, height: 14, viewBox: "0 0 18 14", "aria-hidden": "true" },
          h("path", { class: "not-read", d: "M2 2L16 12M16 2L2 12" }),
        ),
        "not read",
      ),
    ),
  );
}

function Leg({ leg, focus }: { leg: StripLeg; focus: string | null }): VNode {
  const box = useRef<HTMLDivElement>(null);
  const shown = leg.marked.find((mark) => mark.warning === focus) ?? leg.marked[0];
  const shownX = shown === undefined ? null : place(shown.axle - 1, 0).x;
  // On a narrow screen the strip is wider than its window: what has a warning is what is looked for.
  useLayoutEffect(() => {
    if (box.current !== null && shownX !== null) box.current.scrollLeft = shownX - box.current.clientWidth / 2;
  }, [shownX]);
  const rows = Math.max(1, Math.ceil(leg.axles / AXLES_A_ROW));
  const width = PAD + AXLES_A_ROW * CELL + 10;
  const height = rows * ROW_HIGH + 6;
  const hottest = hottestOf(leg);
  const words = `${leg.axles} axles at ${leg.name}. Hottest: ${hottest}. ${leg.marked.length} of its bearings have a warning.`;
  return h(
    "figure",
    { class: "strip" },
    h(
      "figcaption",
      {},
      h("b", {}, leg.name),
      ` ${clockWords(leg.timeMs, store.zone)}, head of the train at the left. Hottest: ${hottest}. ${mediansOf(leg)}${leg.flipped ? " It ran the other way round here." : ""}${leg.directionDoubted ? " The site’s direction is doubted." : ""}`,
    ),
    h(
      "div",
      { ref: box, class: "scroll", tabIndex: 0, role: "region", "aria-label": `Strip of vehicles at ${leg.name}` },
      h(
        "svg",
        { class: "vehicles", width, height, viewBox: `0 0 ${width} ${height}`, role: "group", "aria-label": words },
        Array.from({ length: rows }, (_, row) =>
          h("g", {}, h("text", { x: 0, y: row * ROW_HIGH + 31 }, "left"), h("text", { x: 0, y: row * ROW_HIGH + 49 }, "right")),
        ),
        paths(leg),
        leg.vehicles.map((vehicle) => vehicleFrame(vehicle)),
        brakedOf(leg).map((vehicle) => brakeFrame(vehicle)),
        leg.marked.map((mark) => {
          const { x, y } = place(mark.axle - 1, mark.side === "left" ? 0 : 1);
          const isFocus = mark.warning === focus;
          const shape = h(
            "g",
            { class: isFocus ? "marked focus" : "marked" },
            h("rect", { x: x - 2, y: y - 2, width: CELL + 3, height: BEARING_HIGH + 4 }),
            levelShape(mark.level, x + CELL / 2, mark.side === "left" ? y - 9 : y + BEARING_HIGH + 9, 6),
          );
          return h("a", { href: hrefOf("warning", mark.warning), "aria-label": `${mark.level}: axle ${mark.axle}, ${mark.side}` }, shape);
        }),
      ),
    ),
  );
}

function place(row: number, side: 0 | 1): { x: number; y: number } {
  const line = Math.floor(row / AXLES_A_ROW);
  return { x: PAD + (row % AXLES_A_ROW) * CELL, y: line * ROW_HIGH + 16 + side * (BEARING_HIGH + GAP) };
}

/** Vehicles of which the engine said that it looks like brakes. */
function brakedOf({ vehicles, marked }: StripLeg): StripLeg["vehicles"] {
  const rows = marked.filter(({ heat }) => heat === "brakes").map(({ axle }) => axle - 1);
  return vehicles.filter(({ firstRow, axles }) => rows.some((row) => row >= firstRow && row < firstRow + axles));
}

/** Around all of a vehicle's bearings: the heat is the vehicle's, not one bearing's. A vehicle that goes on in the next row has two. */
function brakeFrame({ firstRow, axles }: StripLeg["vehicles"][number]): VNode {
  const frames: string[] = [];
  for (let row = firstRow; row < firstRow + axles; ) {
    const inLine = Math.min(firstRow + axles - row, AXLES_A_ROW - (row % AXLES_A_ROW));
    const { x, y } = place(row, 0);
    frames.push(`M${x - 3} ${y - 3}h${inLine * CELL + 5}v${2 * BEARING_HIGH + GAP + 6}h${-(inLine * CELL + 5)}z`);
    row += inLine;
  }
  return h("path", { class: "braked", d: frames.join("") });
}

/** One path for each step of warmth: a thousand cells are seven elements. */
function paths(leg: StripLeg): VNode[] {
  const cells = STEPS_F.map(() => "");
  cells.push("");
  let missing = "";
  for (const side of [0, 1] as const) {
    const column = side === 0 ? leg.left : leg.right;
    for (let row = 0; row < leg.axles; row++) {
      const { x, y } = place(row, side);
      const riseF = column[row] ?? null;
      if (riseF === null) missing += `M${x} ${y + 4}l${CELL - 1} ${BEARING_HIGH - 8}m0 ${8 - BEARING_HIGH}l${1 - CELL} ${BEARING_HIGH - 8}`;
      else {
        const step = stepOf(riseF);
        const high = BAR_HIGH[step] ?? BEARING_HIGH;
        cells[step] += `M${x} ${side === 0 ? y + BEARING_HIGH - high : y}h${CELL - 1}v${high}h${1 - CELL}z`;
      }
    }
  }
  return [...cells.map((d, i) => h("path", { class: `heat h${i}`, d })), h("path", { class: "not-read", d: missing })];
}

function stepOf(riseF: number): number {
  let step = 0;
  while (step < STEPS_F.length && riseF >= (STEPS_F[step] as number)) step++;
  return step;
}

/** Underline of a vehicle with its number where there is room: locomotives double. */
function vehicleFrame({ kind, ordinalOfKind, id, firstRow, axles, confidence }: StripLeg["vehicles"][number]): VNode {
  const from = place(firstRow, 1);
  const last = place(firstRow + axles - 1, 1);
  const y = from.y + BEARING_HIGH + 3;
  const end = last.y === from.y ? last.x + CELL - 2 : PAD + AXLES_A_ROW * CELL;
  const isNamed = kind === "locomotive" || ordinalOfKind === 1 || ordinalOfKind % 5 === 0;
  const name = `${kind} ${ordinalOfKind}${id === null ? "" : ` (${id})`}${confidence < 0.9 ? ", not sure" : ""}`;
  return h(
    "g",
    {},
    h("title", {}, name),
    h("path", { class: kind === "locomotive" ? "under locomotive" : "under", d: `M${from.x} ${y}H${end}` }),
    isNamed &&
      h(
        "text",
        { class: "ordinal", x: (from.x + end) / 2, y: y + 11, "text-anchor": "middle" },
        kind === "locomotive" ? `L${ordinalOfKind}` : String(ordinalOfKind),
      ),
  );
}

/** A whole side that reads high or low is a matter of its scanner, or of the sun: the two side by side say it. */
function mediansOf({ medianF: [left, right] }: StripLeg): string {
  if (left === null || right === null) return "";
  const { unit } = store.options;
  return `Median of its left side ${degrees(left, unit)}, of its right side ${degrees(right, unit)}.`;
}

function hottestOf(leg: StripLeg): string {
  let best = { row: -1, side: "left", riseF: Number.NEGATIVE_INFINITY };
  for (const side of ["left", "right"] as const) {
    for (const [row, riseF] of leg[side].entries()) if (riseF !== null && riseF > best.riseF) best = { row, side, riseF };
  }
  if (best.row < 0) return "nothing was read";
  const vehicle = leg.vehicles.find((one) => best.row >= one.firstRow && best.row < one.firstRow + one.axles);
  return `${degrees(best.riseF, store.options.unit)} at ${vehicle === undefined ? "" : `${vehicle.kind} ${vehicle.ordinalOfKind}, `}axle ${best.row + 1}, ${best.side}`;
}
