import type { Levels } from "../bearing/levels.ts";
import type { Leg } from "./journey.ts";
import type { Roster } from "./roster.ts";

/** Fastest heating and cooling of degraded bearings in a test train, °F per minute (FRA, Kesler and Tinto 1989). */
const FASTEST_HEATING_F_PER_MINUTE = 12.8;
const FASTEST_COOLING_F_PER_MINUTE = 7.2;
/** A scanner may under-read by this much (wayside infrared against thermocouples, me_fac/185), so a change may look larger by it. */
const UNDER_READ_F = 85;
/** One hot bearing must neither make nor break a join: what is over this many spreads counts as this many. */
const MOST_SPREADS = 2.5;
/** Likeness that any two trains have (ends of trains, loaded and empty blocks). Assumption. */
const USUAL_LIKENESS = 0.15;
/** Readings are not independent of each other; and no more than this is made of them. Assumptions. */
const TEMPER = 0.2;
export const MOST_WARMTH_NATS = 20;
const LEAST_BEARINGS = 40;

/** How the bearings of a pass compare with those of the leg before, axle by axle. */
export interface Warmth {
  /** Log-odds from bearings that are warmer or cooler than their side again, 0 or more. */
  nats: number;
  bearings: number;
  /** Bearings that would have to heat or cool faster than was ever measured. */
  implausible: number;
}

export const NO_WARMTH: Warmth = { nats: 0, bearings: 0, implausible: 0 };

export interface WarmthQuestion {
  roster: Roster;
  last: Leg;
  lastDirectionFlipped: boolean;
  levels: Levels;
  axles: number;
  positionOfRow: Int32Array | null;
  flipped: boolean;
  falling: boolean;
  hours: number;
}

/** Which rail a bearing of rail r of the last leg is over now: r or the other one. */
function railsSwapped(q: WarmthQuestion): boolean {
  const lastFalling = (q.last.direction === "falling") !== q.lastDirectionFlipped;
  return ((q.last.flipped !== lastFalling) !== q.flipped) !== q.falling;
}

export function compareWarmth(q: WarmthQuestion): Warmth {
  const swapped = railsSwapped(q) ? 1 : 0;
  const sums: Sums = { bearings: 0, implausible: 0, cross: 0, squareA: 0, squareB: 0 };
  for (const rail of [0, 1] as const) compareRail(q, rail, (rail ^ swapped) as 0 | 1, sums);
  const { bearings, implausible, cross, squareA, squareB } = sums;
  const likeness = squareA > 0 && squareB > 0 ? cross / Math.sqrt(squareA * squareB) : 0;
  const excess = Math.min(0.95, likeness - USUAL_LIKENESS);
  const nats =
    bearings >= LEAST_BEARINGS && excess > 0 ? Math.min(MOST_WARMTH_NATS, -0.5 * TEMPER * bearings * Math.log(1 - excess * excess)) : 0;
  return { nats, bearings, implausible };
}

interface Sums {
  bearings: number;
  implausible: number;
  cross: number;
  squareA: number;
  squareB: number;
}

/** One rail of the last leg against the rail that its bearings are over now. */
function compareRail(q: WarmthQuestion, rail: 0 | 1, other: 0 | 1, sums: Sums): void {
  const { roster, last, levels, axles, positionOfRow, flipped } = q;
  const minutes = q.hours * 60;
  const mostUp = FASTEST_HEATING_F_PER_MINUTE * minutes + UNDER_READ_F;
  const mostDown = FASTEST_COOLING_F_PER_MINUTE * minutes + UNDER_READ_F;
  const a = last.levels.excessF[rail];
  const b = levels.excessF[other];
  const capA = MOST_SPREADS * Math.max(1, last.levels.spreadF[rail]);
  const capB = MOST_SPREADS * Math.max(1, levels.spreadF[other]);
  const shift = levels.medianF[other] - last.levels.medianF[rail];
  let { bearings, implausible, cross, squareA, squareB } = sums;
  for (let r = 0; r < axles; r++) {
    const position = positionOfRow === null ? r : positionOfRow[r]!;
    if (position < 0) continue;
    const lastRow = roster.rowOf(position);
    if (lastRow < 0) continue;
    const x = a[lastRow]!;
    const y = b[flipped ? axles - 1 - r : r]!;
    const change = y - x;
    if (Number.isNaN(change)) continue;
    bearings++;
    if (change + shift > mostUp || change + shift < -mostDown) implausible++;
    const u = x < -capA ? -capA : x > capA ? capA : x;
    const v = y < -capB ? -capB : y > capB ? capB : y;
    cross += u * v;
    squareA += u * u;
    squareB += v * v;
  }
  sums.bearings = bearings;
  sums.implausible = implausible;
  sums.cross = cross;
  sums.squareA = squareA;
  sums.squareB = squareB;
}
