import type { Levels } from "../bearing/levels.ts";
import { type Leg, railOfSide } from "./journey.ts";
import { excessColumn } from "./leg-reading.ts";
import type { Roster } from "./roster.ts";
import { cappedF, mostExcessF, type UsualExcess } from "./usual-excess.ts";

/** Fastest heating and cooling of degraded bearings in a test train, °F per minute (FRA, Kesler and Tinto 1989). */
const FASTEST_HEATING_F_PER_MINUTE = 12.8;
const FASTEST_COOLING_F_PER_MINUTE = 7.2;
/** A scanner may under-read by this much (wayside infrared against thermocouples, me_fac/185), so a change may look larger by it. */
const UNDER_READ_F = 85;
/** Likeness that any two trains have (ends of trains, loaded and empty blocks). Assumption. */
const USUAL_LIKENESS = 0.1;
/** Readings are not independent of each other; and no more than this is made of them. Assumptions. */
const TEMPER = 0.5;
export const MOST_WARMTH_NATS = 20;
const LEAST_BEARINGS = 40;
/**
 * So many bearings are as good as never so little alike in one train, whatever a scanner missed, and hardly ever more in two:
 * what then speaks against it, in full and from which likeness on. Assumptions.
 */
const TELLING_BEARINGS = 200;
const UNLIKE_NATS = -5;
const UNLIKE = 0.05;
const UNLIKE_NO_MORE = 0.15;

/** How the bearings of a pass compare with what they were on the legs before. */
export interface Warmth {
  /** Log-odds from bearings that are warmer or cooler than their side again, or from none that are. */
  nats: number;
  /** Compared with the leg before. */
  bearings: number;
  /** Bearings that would have to heat or cool faster than was ever measured. */
  implausible: number;
}

export const NO_WARMTH: Warmth = { nats: 0, bearings: 0, implausible: 0 };

export interface WarmthQuestion {
  roster: Roster;
  last: Leg;
  /** What the journey's bearings are like so far. */
  usual: UsualExcess;
  /** The last leg went the other way than its site said, so its sides are the other ones. */
  lastDirectionFlipped: boolean;
  levels: Levels;
  axles: number;
  positionOfRow: Int32Array | null;
  flipped: boolean;
  falling: boolean;
  hours: number;
}

/** What the bearings of a side of the roster usually are, by roster number. */
export function usualOf({ usual, lastDirectionFlipped }: WarmthQuestion, side: 0 | 1): Float32Array {
  return usual.meanF((side ^ (lastDirectionFlipped ? 1 : 0)) as 0 | 1);
}

export function compareWarmth(q: WarmthQuestion): Warmth {
  const sums: Sums = { bearings: 0, implausible: 0, compared: 0, cross: 0, squareUsual: 0, squareNow: 0 };
  for (const side of [0, 1] as const) compareSide(q, side, sums);
  const { bearings, implausible } = sums;
  return { nats: likenessNats(sums), bearings, implausible };
}

function likenessNats({ compared, cross, squareUsual, squareNow }: Sums): number {
  if (compared < LEAST_BEARINGS) return 0;
  const likeness = squareUsual > 0 && squareNow > 0 ? cross / Math.sqrt(squareUsual * squareNow) : 0;
  const excess = Math.min(0.95, likeness - USUAL_LIKENESS);
  const nats = excess > 0 ? Math.min(MOST_WARMTH_NATS, -0.5 * TEMPER * compared * Math.log(1 - excess * excess)) : 0;
  if (compared < TELLING_BEARINGS || likeness >= UNLIKE_NO_MORE) return nats;
  return nats + UNLIKE_NATS * Math.min(1, (UNLIKE_NO_MORE - likeness) / (UNLIKE_NO_MORE - UNLIKE));
}

interface Sums {
  bearings: number;
  implausible: number;
  compared: number;
  cross: number;
  squareUsual: number;
  squareNow: number;
}

/** The bearings of one side of the roster: with the leg before, for what is possible, and with what they usually are. */
function compareSide(q: WarmthQuestion, side: 0 | 1, sums: Sums): void {
  const { roster, last, levels, axles, positionOfRow, flipped } = q;
  const mostUp = FASTEST_HEATING_F_PER_MINUTE * q.hours * 60 + UNDER_READ_F;
  const mostDown = FASTEST_COOLING_F_PER_MINUTE * q.hours * 60 + UNDER_READ_F;
  const railBefore = (railOfSide(last, side) ^ (q.lastDirectionFlipped ? 1 : 0)) as 0 | 1;
  const railNow = (side ^ (flipped ? 1 : 0) ^ (q.falling ? 1 : 0)) as 0 | 1;
  const before = excessColumn(last, railBefore);
  const now = levels.excessF[railNow];
  const usual = usualOf(q, side);
  const mostF = mostExcessF(levels.spreadF[railNow]);
  const shift = levels.medianF[railNow] - last.levels.medianF[railBefore];
  let { bearings, implausible, compared, cross, squareUsual, squareNow } = sums;
  for (let r = 0; r < axles; r++) {
    const position = positionOfRow === null ? r : positionOfRow[r]!;
    if (position < 0) continue;
    const y = now[flipped ? axles - 1 - r : r]!;
    const lastRow = roster.rowOf(position);
    const change = lastRow < 0 ? Number.NaN : y - before[lastRow]!;
    if (!Number.isNaN(change)) {
      bearings++;
      if (change + shift > mostUp || change + shift < -mostDown) implausible++;
    }
    const u = usual[roster.axles[position]!] ?? Number.NaN;
    const v = cappedF(y, mostF);
    if (Number.isNaN(u * v)) continue;
    compared++;
    cross += u * v;
    squareUsual += u * u;
    squareNow += v * v;
  }
  sums.bearings = bearings;
  sums.implausible = implausible;
  sums.compared = compared;
  sums.cross = cross;
  sums.squareUsual = squareUsual;
  sums.squareNow = squareNow;
}
