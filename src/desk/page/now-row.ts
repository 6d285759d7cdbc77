import type { Row } from "../board/row.ts";
import { type Need, reachedMs } from "../board/urgency.ts";
import { agoWords, clockWords, spanWords } from "./clock.ts";
import { DistanceStrip } from "./distance-strip.ts";
import { h, type VNode } from "./element.ts";
import { LevelMark } from "./level-mark.ts";
import { hrefOf } from "./route.ts";
import { store } from "./store.ts";
import { degrees, miles, perMile } from "./units.ts";

const DONE = { "told-crew": "crew told", "train-stopped": "train stopped", "set-out": "set out" } as const;

export const STATE_WORDS: Record<Row["state"], string> = {
  unacknowledged: "not acknowledged",
  acknowledged: "acknowledged",
  shelved: "shelved",
  "out-of-service": "out of service",
  cleared: "cleared",
  withdrawn: "withdrawn",
};

/** A reading so old no longer says how the bearing is now. Assumption. */
const OLD_READING_MS = 60 * 60_000;

/** Past it nothing is counted on from the last reading: the train has long been somewhere else. Assumption. */
const GONE_MS = 3 * 3_600_000;

/** One warning in the list: everything that a decision needs, in one line of sight. */
export function NowRow({ row, need }: { row: Row; need: Need }): VNode {
  const { options, zone } = store;
  const now = store.now();
  const readMs = row.readMs ?? row.timeMs;
  const isOld = now - readMs > OLD_READING_MS;
  return h(
    "a",
    {
      class: `row ${row.level} ${need}`,
      href: hrefOf("warning", row.id),
      "data-row": row.id,
    },
    h("span", { class: "c-level" }, h(LevelMark, { level: row.level, size: need === "decide" ? 30 : 22 }), h("b", {}, row.level)),
    h(
      "span",
      { class: "c-train" },
      h("b", {}, row.train === null ? "Train without an id" : `Train ${row.train}`),
      h(
        "span",
        {},
        `${row.about ? "about " : ""}${row.vehicle ?? "vehicle not told"}, axle ${row.axle}, ${row.side}`,
        row.vehicleId !== null && h("small", {}, ` ${row.vehicleId}`),
      ),
    ),
    h(
      "span",
      { class: "c-heat" },
      h("b", {}, degrees(row.riseF, options.unit)),
      h("span", {}, `${perMile(row.slopeFPerMile, options.unit)}; limit ${degrees(row.limitF, options.unit)}`),
      row.heat !== "bearing" && row.heat !== "none" && h("span", { class: "heat-kind" }, `looks like ${row.heat}`),
    ),
    h(
      "span",
      { class: "c-left" },
      h("b", {}, leftWords(row, now)),
      h("span", {}, crossingWords(row, now)),
      need !== "aside" && h(DistanceStrip, { row, nowMs: now }),
    ),
    h(
      "span",
      { class: "c-state" },
      h("b", {}, row.pending ? `${STATE_WORDS[row.state]} …` : STATE_WORDS[row.state]),
      h("span", {}, whoWords(row, zone)),
      h("span", { class: isOld ? "age old" : "age" }, `${store.siteName(row.site)}, ${agoWords(readMs, now)}`),
    ),
  );
}

/** What is left to act on, in words: the place to set out, or where to stop. */
export function leftWords(row: Row, nowMs: number): string {
  if (nowMs - row.timeMs > GONE_MS) return `Not heard for ${spanWords(nowMs - row.timeMs)}`;
  if (row.level === "limit") return "At the limit: stop";
  if (row.setOut !== null) return `Set out at ${row.setOut.name}: ${awayWords(row, row.setOut.miles, nowMs)}`;
  if (row.level === "warn") return "Stop: no set-out place in time";
  if (row.crossing === null) return "No crossing in sight";
  if (row.crossing.low < 0.1) return "The limit could be reached at once";
  return `Low end of crossing: ${awayWords(row, row.crossing.low, nowMs)}`;
}

export function crossingWords(row: Row, nowMs: number): string {
  if (row.level === "limit") return "the limit was read; a lower reading does not clear it";
  if (row.crossing === null) return "where it would reach the limit is not known";
  const { low, high } = row.crossing;
  const range =
    low < 0.1 ? `limit could be reached at once, or up to ${miles(high)} on` : `limit could be reached ${miles(low)} to ${miles(high)} on`;
  const at = reachedMs(row, low);
  if (at === null || nowMs - row.timeMs > GONE_MS) return range;
  if (low < 0.1) return range;
  return at <= nowMs ? `${range}; the train may be past the low end` : `${range}, from ${clockWords(at, store.zone)}`;
}

/** "4.5 mi on, in 6 min", counted from where the train would be by now. */
function awayWords(row: Row, away: number, nowMs: number): string {
  const at = reachedMs(row, away);
  if (at === null) return `${miles(away)} from ${store.siteName(row.site)}`;
  if (at <= nowMs) return `${miles(away)} on, passed ${spanWords(nowMs - at)} ago unless the train stopped`;
  const left = ((at - nowMs) / 3_600_000) * (row.mph ?? 0);
  return `${miles(left)}, ${spanWords(at - nowMs)} left`;
}

function whoWords(row: Row, zone: string): string {
  const who = row.owner === null ? "nobody has it" : `${row.owner} has it`;
  const done = row.done === null ? "" : `, ${DONE[row.done.what]} ${clockWords(row.done.timeMs, zone)}`;
  const shelf =
    row.state === "shelved" && row.shelvedUntilMs !== null && Number.isFinite(row.shelvedUntilMs)
      ? `, until ${clockWords(row.shelvedUntilMs, zone)}`
      : "";
  return `${who}${done}${shelf}`;
}
