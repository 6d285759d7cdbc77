import type { Journey, Leg } from "../../journey/journey.ts";
import type { Corridor, Railroad } from "../../line/railroad.ts";
import { bandsOf } from "../../replay/report/bands.ts";
import type { DeskState } from "../board/desk-state.ts";
import { needOf } from "../board/urgency.ts";
import type { ClockView } from "./clock-view.ts";
import type { Line } from "./line-shape.ts";
import { warnedTrains } from "./warned-trains.ts";

/** Points in one answer, the newest; more would be a picture of nothing. */
const MOST_POINTS = 8_000;
/** Longest that a train is drawn ahead of its last site. */
const AHEAD_MS = 3 * 3_600_000;
const HOUR_MS = 3_600_000;
/** For a train whose speed was not measured. Assumption. */
const USUAL_MPH = 35;

/** The time-distance diagram as data: sites along each corridor, passes of every train, what stands ahead, conditions, warnings. */
export function lineView(state: DeskState, railroad: Railroad, fromMs: number, toMs: number, clock: ClockView, place: string): Line {
  const points = [...state.trains.values()].flatMap((trains) => trains.pointsBetween(fromMs, toMs));
  const rows = state.board
    .rows(true)
    .filter((row) => row.timeMs >= fromMs && row.raisedMs <= toMs && (row.level !== "watch" || needOf(row) !== "closed"));
  points.sort((a, b) => a.timeMs - b.timeMs || (a.pass < b.pass ? -1 : 1));
  return {
    clock,
    place,
    fromMs,
    toMs,
    corridors: railroad.corridors.map((corridor) => ({ id: corridor.id, name: corridor.name, bands: bands(railroad, corridor) })),
    points: points.slice(-MOST_POINTS),
    expected: expected(state, railroad, clock.nowMs),
    conditions: state.sites
      .conditionList(true)
      .map(({ site, kind, device, words, raisedAt, state: standing, time }) => ({
        site,
        kind,
        device,
        words,
        raisedMs: Date.parse(raisedAt),
        clearedMs: standing === "cleared" ? Date.parse(time) : null,
      }))
      .filter((one) => one.raisedMs <= toMs && (one.clearedMs ?? toMs) >= fromMs),
    rows,
    warned: warnedTrains(state, rows),
  };
}

function bands(railroad: Railroad, corridor: Corridor): Line["corridors"][number]["bands"] {
  const own = new Set(corridor.sites);
  return bandsOf(railroad, corridor).map((band) => {
    const named = band.branchOf === null ? band.sites : band.sites.slice(1);
    const lines = [...new Set(named.map(({ site }) => railroad.sites.get(site)?.line ?? ""))].join(", then ");
    const from = band.branchOf === null ? null : (railroad.sites.get(band.branchOf)?.name ?? band.branchOf);
    return {
      title: from === null ? lines : `${lines}, from ${from}`,
      branchOf: band.branchOf,
      miles: band.miles,
      sites: band.sites.map(({ site, miles }) => ({
        site,
        name: railroad.sites.get(site)?.name ?? site,
        milepost: railroad.sites.get(site)?.milepost ?? 0,
        miles,
        own: own.has(site),
      })),
    };
  });
}

/** Trains heard lately, and when they would come to the next site if nothing held them. */
function expected(state: DeskState, railroad: Railroad, nowMs: number): Line["expected"] {
  const found: Line["expected"] = [];
  for (const [corridor, trains] of state.trains) {
    for (const journey of trains.all())
      for (const next of nextSites(railroad, journey, nowMs)) found.push({ corridor, journey: journey.id, train: journey.train, ...next });
  }
  return found;
}

/** Where a train would be heard next, and when, at the speed it was last read at; nothing of one long overdue. */
export function nextSites(railroad: Railroad, journey: Journey, nowMs: number): { site: string; timeMs: number; over: string[] }[] {
  const last = journey.legs.at(-1);
  if (last === undefined || last.pass.endedMs < nowMs - AHEAD_MS) return [];
  const mph = mphOfLeg(last) ?? USUAL_MPH;
  return (
    railroad
      .ahead(last.pass.site, last.pass.track, last.direction, 2)
      .map((way) => ({
        site: way.site,
        over: [...way.over],
        timeMs: last.pass.endedMs + Math.max(way.miles / mph, way.fastestHours) * HOUR_MS,
      }))
      // Long overdue: it stands, or was not heard; a line ahead of now would claim to know.
      .filter(({ timeMs }) => timeMs >= nowMs && timeMs <= nowMs + AHEAD_MS)
  );
}

/** Mean speed of a pass over its site; null when it was not measured. */
export function mphOfLeg({ pass }: Leg): number | null {
  let sum = 0;
  let count = 0;
  for (let row = 0; row < pass.axles; row++) {
    const mph = pass.speedMph[row]!;
    if (!(mph > 0)) continue;
    sum += mph;
    count++;
  }
  return count === 0 ? null : Math.round((sum / count) * 10) / 10;
}
