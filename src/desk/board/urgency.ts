import type { Level } from "../../warning/warning.ts";
import type { Row } from "./row.ts";

/**
 * What a row asks of the person at the desk. Our own grouping, after ISA-18.2's rule that an alarm is something that
 * requires a response: `decide` requires one now, `in-hand` had one, `watch` requires a look, `aside` was put aside for a
 * stated reason (shelved, out of service), `closed` requires nothing.
 */
export type Need = "decide" | "in-hand" | "watch" | "aside" | "closed";

export const NEEDS: readonly Need[] = ["decide", "in-hand", "watch", "aside", "closed"];

type Asking = Pick<Row, "level" | "state" | "heat" | "owner" | "done">;

/** A warn or a limit is in hand once somebody acknowledged it AND the crew was told or the train dealt with. */
export function needOf(row: Asking): Need {
  if (row.state === "cleared" || row.state === "withdrawn") return "closed";
  if (row.state === "shelved" || row.state === "out-of-service") return "aside";
  if (row.level === "watch") return "watch";
  return row.state === "acknowledged" && row.done !== null ? "in-hand" : "decide";
}

type Placed = Pick<Row, "level" | "timeMs" | "mph" | "crossing" | "setOut">;

const HOUR_MS = 3_600_000;

/** When a train at the speed it was read at comes to a place so many miles on; null where the speed is not known. */
export function reachedMs(row: Pick<Row, "timeMs" | "mph">, miles: number): number | null {
  return row.mph === null || row.mph <= 0 ? null : row.timeMs + (miles / row.mph) * HOUR_MS;
}

/**
 * The last moment at which something can still be decided, as far as can be told: the set-out place before the low end of the
 * crossing, else that low end itself; at the limit it has come already. Infinity: nothing ahead is known.
 */
export function deadlineMs(row: Placed): number {
  if (row.level === "limit") return row.timeMs;
  const miles = row.setOut?.miles ?? row.crossing?.low ?? null;
  if (miles === null) return Number.POSITIVE_INFINITY;
  // A speed that is not known must not push a row to the end: as if it were there already.
  return reachedMs(row, miles) ?? row.timeMs;
}

const LEVELS: readonly Level[] = ["limit", "warn", "watch"];

/** Where a row stands: need and level first, then what is left to act on. */
export interface Place {
  rank: number;
  order: number;
  id: string;
}

/**
 * A warn that asks for a decision stands by its deadline, the nearest first. At the limit the deadline has come: there the
 * critical limit comes first, then what nobody has acted on, and of the rest, where nothing runs out, what was read last, for
 * its train is still on its way.
 */
export function placeOf(row: Row): Place {
  const need = needOf(row);
  const isAtLimit = row.level === "limit";
  const within = isAtLimit ? (row.critical ? 0 : 2) + (isHeld(row) ? 1 : 0) : 0;
  const rank = (NEEDS.indexOf(need) * LEVELS.length + LEVELS.indexOf(row.level)) * WITHIN + within;
  return { rank, order: need === "decide" && !isAtLimit ? deadlineMs(row) : -row.timeMs, id: row.id };
}

/** Ranks within a need and level. */
const WITHIN = 4;

/** Somebody has it, or did something about it. */
function isHeld({ state, owner, done }: Asking): boolean {
  return state === "acknowledged" || owner !== null || done !== null;
}

/** The id decides last, so that the order never flickers. */
export function comparePlaces(a: Place, b: Place): number {
  if (a.rank !== b.rank) return a.rank - b.rank;
  if (a.order !== b.order) return a.order < b.order ? -1 : 1;
  return a.id < b.id ? -1 : a.id > b.id ? 1 : 0;
}
