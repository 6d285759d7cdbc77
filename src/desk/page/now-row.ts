import type { Row } from "../board/row.ts";
import type { Need } from "../board/urgency.ts";
import { agoWords, whenWords } from "./clock.ts";
import { DistanceStrip } from "./distance-strip.ts";
import { h, type VNode } from "./element.ts";
import { crossingWords, leftWords } from "./left-words.ts";
import { LevelMark } from "./level-mark.ts";
import { limitWords } from "./limit-words.ts";
import { hrefOf } from "./route.ts";
import { store } from "./store.ts";
import { chance, degrees, perMile } from "./units.ts";

const DONE = { "told-crew": "crew told", "train-stopped": "train stopped", "set-out": "set out" } as const;

export const STATE_WORDS: Record<Row["state"], string> = {
  unacknowledged: "not acknowledged",
  acknowledged: "acknowledged",
  shelved: "shelved",
  "out-of-service": "out of service",
  cleared: "cleared",
  withdrawn: "withdrawn",
};

const HEAT_WORDS = {
  brakes: "Looks like brakes",
  scanner: "Looks like the scanner, not the train",
  sun: "Looks like sun on the scanner",
} as const;

/** A reading so old no longer says how the bearing is now. Assumption. */
const OLD_READING_MS = 60 * 60_000;

/** One warning in the list: everything that a decision needs, in one line of sight. */
export function NowRow({ row, need }: { row: Row; need: Need }): VNode {
  const { options, zone } = store;
  const now = store.now();
  const readMs = row.readMs ?? row.timeMs;
  const isOld = now - readMs > OLD_READING_MS;
  const isToDecide = need === "decide";
  return h(
    "a",
    {
      class: `row ${row.level} ${need}`,
      href: hrefOf("warning", row.id),
      "data-row": row.id,
    },
    h("span", { class: "c-level" }, h(LevelMark, { level: row.level, size: isToDecide ? 30 : 22 }), h("b", {}, row.level)),
    h(
      "span",
      { class: "c-train" },
      h("b", {}, row.train === null ? "Train without an id" : `Train ${row.train}`),
      h("span", {}, `${row.about ? "about " : ""}${row.vehicle ?? "vehicle not told"}, axle ${row.axle}, ${row.side}`),
      row.vehicleId !== null && h("span", { class: "more" }, row.vehicleId),
      isToDecide && h(Elsewhere, { row }),
    ),
    h(
      "span",
      { class: "c-heat" },
      h("b", {}, degrees(row.riseF, options.unit)),
      h("span", { class: row.axleDifference === null ? "" : "of-axle" }, limitWords(row, options.unit)),
      // The slope leads to the bearing's own limit.
      row.axleDifference === null && h("span", {}, perMile(row.slopeFPerMile, options.unit)),
      // A watch is looked at again whatever its chance; lower rows have no room for it.
      isToDecide && row.chanceNextSite !== null && h("span", {}, `${chance(row.chanceNextSite)} before the next site`),
    ),
    h(
      "span",
      { class: "c-left" },
      h("b", {}, leftWords(row, now)),
      isToDecide && h("span", {}, crossingWords(row, now)),
      row.heat !== "bearing" && row.heat !== "none" && h("span", {}, HEAT_WORDS[row.heat]),
      // Rows with nothing to decide are lower, and have room only here.
      !isToDecide && h(Elsewhere, { row }),
      // At the limit nothing is left to reach.
      isToDecide && row.level !== "limit" && h(DistanceStrip, { row, nowMs: now }),
    ),
    h(
      "span",
      { class: "c-state" },
      h("b", {}, row.pending ? `${STATE_WORDS[row.state]} …` : STATE_WORDS[row.state]),
      h("span", {}, whoWords(row, now, zone)),
      h("span", { class: isOld ? "age old" : "age" }, `${store.siteName(row.site)}, ${agoWords(readMs, now)}`),
    ),
  );
}

/** Each corridor warns of a bearing by itself; two rows must not pass for two bearings. */
function Elsewhere({ row }: { row: Row }): VNode | null {
  const other = store.rows.elsewhere(row)[0];
  if (other === undefined) return null;
  const { unit } = store.options;
  return h("span", { class: "also" }, `Same bearing: ${other.level} at ${store.siteName(other.site)}, ${degrees(other.riseF, unit)}`);
}

/** "crew told 07:44" */
export function doneWords({ what, timeMs }: NonNullable<Row["done"]>, nowMs: number, zone: string): string {
  return `${DONE[what]} ${whenWords(timeMs, nowMs, zone)}`;
}

function whoWords(row: Row, nowMs: number, zone: string): string {
  const who = row.owner === null ? "nobody has it" : `${row.owner} has it`;
  const done = row.done === null ? "" : `, ${doneWords(row.done, nowMs, zone)}`;
  const shelf =
    row.state === "shelved" && row.shelvedUntilMs !== null && Number.isFinite(row.shelvedUntilMs)
      ? `, until ${whenWords(row.shelvedUntilMs, nowMs, zone)}`
      : "";
  return `${who}${done}${shelf}`;
}
