import { trackOf } from "../../bearing/history.ts";
import type { BearingTrack } from "../../bearing/track.ts";
import { overSites } from "../../flow/over-sites.ts";
import { type Journey, type Leg, railOfSide, rowOfRoster, travelSide } from "../../journey/journey.ts";
import type { Railroad } from "../../line/railroad.ts";
import { placeWords } from "../../pass/place.ts";
import type { DeskState } from "../board/desk-state.ts";
import type { Trains } from "../board/trains.ts";
import type { ClockView } from "./clock-view.ts";
import { mphOfLeg, nextSites } from "./line-view.ts";
import { notSeeing } from "./not-seeing.ts";
import { finite, stripOf, type Warned, warnedOf } from "./strip-view.ts";
import type { Train } from "./train-shape.ts";

/** Bearings ranked, hottest over their side first. */
const RANKED = 30;
/** Readings that the plain slope of the ranking goes back. */
const SLOPE_READINGS = 5;
/** Log-odds in words: past e^12 nobody needs a number. */
const CERTAIN = 12;

/** A train: every pass with how surely it was joined, the sites that missed it, its bearings ranked. null: not known (any more). */
export function trainView(state: DeskState, railroad: Railroad, id: string, clock: ClockView): Train | null {
  const found = state.journey(id);
  if (found === null) return null;
  const { journey, trains } = found;
  const warned = warnedOf(state.board, journey.id);
  const expected = nextSites(railroad, journey, clock.nowMs);
  const missedIt = journey.legs.flatMap((leg) => overSites(railroad, journey, leg));
  const concerned = [...journey.legs.map((leg) => leg.pass.site), ...missedIt, ...expected.map((one) => one.site)];
  return {
    clock,
    journey: journey.id,
    train: journey.train,
    corridor: trains.corridor,
    key: trains.isKey(journey.train),
    axles: journey.legs.at(-1)?.pass.axles ?? 0,
    legs: journey.legs.map((leg) => legView(railroad, journey, leg, trains)),
    ranked: ranked(journey, warned),
    rows: warned.map((one) => one.row),
    notSeeing: notSeeing(state.sites.conditionList(), concerned),
    expected: expected.map((one) => ({ ...one, name: railroad.sites.get(one.site)?.name ?? one.site })),
    strip: stripOf(railroad, journey, warned),
  };
}

function legView(railroad: Railroad, journey: Journey, leg: Leg, trains: Trains): Train["legs"][number] {
  const { pass, join } = leg;
  const site = railroad.sites.get(pass.site);
  return {
    pass: pass.id,
    site: pass.site,
    name: site?.name ?? pass.site,
    milepost: site?.milepost ?? 0,
    track: pass.track,
    timeMs: pass.endedMs,
    miles: Math.round(leg.miles * 100) / 100,
    direction: leg.direction,
    directionDoubted: leg.directionDoubted,
    axles: pass.axles,
    mph: mphOfLeg(leg),
    flags: [...pass.flags],
    over: overSites(railroad, journey, leg).map((one) => railroad.sites.get(one)?.name ?? one),
    join:
      join === null
        ? null
        : {
            matched: join.matched,
            dropped: join.dropped,
            added: join.added,
            flipped: join.flipped,
            score: Math.round(join.score * 10) / 10,
            margin: Math.round(join.margin * 10) / 10,
            sure: sureWords(Math.min(join.score, join.margin)),
            doubts: [...join.doubts],
          },
    doubt: trains.doubtOf(pass.id)?.words ?? null,
  };
}

/** Odds that it is the same train, in words. */
function sureWords(nats: number): string {
  if (nats >= CERTAIN) return "certain for all practical purposes";
  const odds = Math.exp(Math.max(0, nats));
  return `odds of about ${odds < 10 ? odds.toFixed(1) : String(Math.round(odds))} to 1`;
}

function ranked(journey: Journey, warned: readonly Warned[]): Train["ranked"] {
  const last = journey.legs.at(-1);
  if (last === undefined) return [];
  const { pass } = last;
  const all: { row: number; rail: 0 | 1; excessF: number }[] = [];
  for (const rail of [0, 1] as const) {
    const excess = last.levels.excessF[rail];
    for (let row = 0; row < pass.axles; row++) if (Number.isFinite(excess[row])) all.push({ row, rail, excessF: excess[row]! });
  }
  all.sort((a, b) => b.excessF - a.excessF || a.row - b.row || a.rail - b.rail);
  return all.slice(0, RANKED).map(({ row, rail, excessF }) => rankedBearing(journey, last, row, rail, excessF, warned));
}

function rankedBearing(
  journey: Journey,
  last: Leg,
  row: number,
  rail: 0 | 1,
  excessF: number,
  warned: readonly Warned[],
): Train["ranked"][number] {
  const { pass } = last;
  const side = travelSide(last.direction, rail);
  const rosterAxle = last.rosterOfRow[row] ?? -1;
  const rosterSide = railOfSide(last, 0) === rail ? 0 : 1;
  const track = rosterAxle < 0 || rowOfRoster(last, rosterAxle) < 0 ? [] : trackOf(journey, rosterAxle, rosterSide);
  const named = warned.find(
    (one) => one.row.side === (side === 0 ? "left" : "right") && one.marks.some((at) => at.pass === pass.id && at.axle === row + 1),
  );
  return {
    axle: row + 1,
    side: side === 0 ? "left" : "right",
    place: placeWords(pass, row, side),
    riseF: finite(pass.bearingRiseF[rail][row]!),
    excessF: finite(excessF),
    slopeFPerMile: plainSlope(track),
    readings: track.slice(-SLOPE_READINGS - 3).map((reading) => finite(reading.riseF)),
    warning: named?.row.id ?? null,
  };
}

/** Least squares through the last readings over the side of the train: a plain slope to rank by, no projection. */
export function plainSlope(track: BearingTrack): number | null {
  const used = track.filter((reading) => Number.isFinite(reading.excessF)).slice(-SLOPE_READINGS);
  if (used.length < 2) return null;
  const meanX = used.reduce((sum, one) => sum + one.miles, 0) / used.length;
  const meanY = used.reduce((sum, one) => sum + one.excessF, 0) / used.length;
  let xx = 0;
  let xy = 0;
  for (const { miles, excessF } of used) {
    xx += (miles - meanX) ** 2;
    xy += (miles - meanX) * (excessF - meanY);
  }
  return xx === 0 ? null : Math.round((xy / xx) * 100) / 100;
}
