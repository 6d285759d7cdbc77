import type { Row } from "../board/row.ts";
import { reachedMs } from "../board/urgency.ts";
import { clockWords, spanWords } from "./clock.ts";
import { DOUBTED_MS, isStanding } from "./since-reading.ts";
import { store } from "./store.ts";
import { miles, temperaturesIn } from "./units.ts";

/** Past it nothing is counted on from the last reading: the train has long been somewhere else. Assumption. */
const GONE_MS = 3 * 3_600_000;

/**
 * Farther on no end of a crossing is told: a train comes over several sites before, each of which says it better, and a
 * corridor ends there or a little later. Assumption.
 */
const FAR_MILES = 100;

/** What is left to act on, in words: the place to set out, or what to do at once. */
export function leftWords(row: Row, nowMs: number): string {
  if (row.state === "out-of-service") return "Out of service until returned";
  // A train that was stopped is not heard: at the limit what to do stands however long ago it was read.
  if (row.level === "limit") return adviceOf(row)[0] ?? "At the limit: stop";
  if (isStanding(row)) return standingWords(row);
  if (nowMs - row.timeMs > GONE_MS) return `Not heard for ${spanWords(nowMs - row.timeMs)}`;
  if (row.setOut !== null) return `Set out at ${row.setOut.name}: ${awayWords(row, row.setOut.miles, nowMs)}`;
  if (row.level === "warn") return "Stop: no set-out place in time";
  if (row.crossing === null) return "No crossing in sight";
  if (row.crossing.low < 0.1) return "The limit could be reached at once";
  return `Low end of crossing: ${awayWords(row, row.crossing.low, nowMs)}`;
}

/** Of a train that stands nothing is reckoned on: what is left is a look at the bearing, or the way to the place. */
function standingWords({ done, setOut, site }: Row): string {
  if (done?.what === "set-out" || setOut === null) return done?.what === "set-out" ? "Set out: inspect" : "Stopped: inspect";
  return `Stopped: inspect, or set out at ${setOut.name}, ${miles(setOut.miles)} from ${store.siteName(site)}`;
}

/** Why, or how far: the second line under what is left. */
export function crossingWords(row: Row, nowMs: number): string {
  if (row.state === "out-of-service") return "until somebody returns the vehicle to service";
  if (row.level === "limit") return adviceOf(row).slice(1, 3).join(" ") || "The limit was reached; a lower reading does not clear it.";
  if (row.crossing === null) return "where it would reach the limit is not known";
  const { low, high } = row.crossing;
  const range = `limit could be reached ${rangeWords(low, high)}`;
  const at = isStanding(row) ? null : reachedMs(row, low);
  if (at === null || nowMs - row.timeMs > GONE_MS) return range;
  if (low < 0.1) return range;
  return at <= nowMs ? `${range}; the train may be past the low end` : `${range}, from ${clockWords(at, store.zone)}`;
}

function rangeWords(low: number, high: number): string {
  const end = high > FAR_MILES ? `beyond ${miles(FAR_MILES)}` : miles(high);
  if (low > FAR_MILES) return `${end} on`;
  return low < 0.1 ? `at once, or up to ${end} on` : `${miles(low)} to ${end} on`;
}

/** The advice's sentences, the bearing by its vehicle alone: its full place stands beside them. */
export function adviceOf({ advice, place, vehicle, axle }: Pick<Row, "advice" | "place" | "vehicle" | "axle">): string[] {
  const short = place === "" ? advice : advice.replaceAll(place, vehicle ?? `axle ${axle}`);
  return temperaturesIn(short, store.options.unit)
    .split(/(?<=[.!?]) (?=[A-Z])/)
    .filter((sentence) => sentence !== "");
}

/** "4.5 mi on, in 6 min", counted from where the train would be by now. */
function awayWords(row: Row, away: number, nowMs: number): string {
  const at = reachedMs(row, away);
  if (at === null) {
    const doubt = nowMs - row.timeMs > DOUBTED_MS ? "; where the train is by now is not known" : "";
    return `${miles(away)} from ${store.siteName(row.site)}${doubt}`;
  }
  if (at <= nowMs) return `passed ${spanWords(nowMs - at)} ago, unless it stopped`;
  const left = ((at - nowMs) / 3_600_000) * (row.mph ?? 0);
  return `${miles(left)}, ${spanWords(at - nowMs)} left`;
}
