import type { Journey } from "../../journey/journey.ts";
import type { Railroad, Way } from "../../line/railroad.ts";
import type { Rules } from "../../warning/rule-set.ts";
import type { EvidenceReading, Warning } from "../../warning/warning.ts";
import type { DeskState } from "../board/desk-state.ts";
import { reachedMs } from "../board/urgency.ts";
import type { WarningCase } from "../board/warning-case.ts";
import type { ClockView } from "./clock-view.ts";
import { mphOfLeg } from "./line-view.ts";
import { notSeeing } from "./not-seeing.ts";
import { stripOf, warnedOf } from "./strip-view.ts";
import type { OneWarning } from "./warning-shape.ts";

/** Sites ahead are shown this many links on. */
const HOPS_AHEAD = 3;

/** One warning with all its evidence; null when the desk does not know it. */
export function warningView(state: DeskState, railroad: Railroad, id: string, clock: ClockView): OneWarning | null {
  const found = state.board.caseOf(id);
  if (found === undefined) return null;
  const { last } = found;
  const row = found.asRow();
  const ways = waysAhead(railroad, last);
  const journey = journeyOf(state, found);
  const passedMiles = last.evidence.at(-1)?.miles ?? 0;
  // The way ahead is known from the site that held the axle last; the train may have passed others since.
  const onMiles = passedMiles - (last.evidence.find((one) => one.pass === last.pass)?.miles ?? passedMiles);
  // At the limit a warning names no speed any more; the pass itself has it.
  const leg = journey?.legs.find((one) => one.pass.id === (last.evidence.at(-1)?.pass ?? last.pass));
  const mph = row.mph ?? (leg === undefined ? null : mphOfLeg(leg));
  const arrivesMs = (miles: number) => reachedMs({ timeMs: row.timeMs, mph }, miles);
  const lastMiles = lastToStopAt(last, onMiles, state.book.at(Date.parse(last.time)));
  const heard = new Set(journey?.legs.filter(({ pass }) => pass.endedMs > row.timeMs).map(({ pass }) => pass.site));
  const ahead = sitesAhead(railroad, ways, heard);
  return {
    clock,
    row,
    warning: last,
    evidence: last.evidence.map((reading) => ({
      ...reading,
      name: railroad.sites.get(reading.site)?.name ?? reading.site,
      why: whyCounts(reading),
    })),
    versions: found.versions,
    actions: found.actions,
    passedMiles,
    setOuts: stillAhead(setOutsAhead(last, ways, lastMiles, heard), onMiles).map((one) => ({ ...one, arrivesMs: arrivesMs(one.miles) })),
    sitesAhead: stillAhead(ahead, onMiles).map((one) => ({ ...one, arrivesMs: arrivesMs(one.miles) })),
    mph,
    notSeeing: notSeeing(
      state.sites.conditionList(),
      [...last.evidence, ...ahead].map((one) => one.site),
    ),
    strip: journey === null ? [] : stripOf(railroad, journey, warnedOf(state.board, last.journey)),
    shelveMaxHours: state.book.at(clock.nowMs).desk.shelveMaxHours,
  };
}

/**
 * The last mile at which the train can stop in time, from the site that held the axle last; at the limit there is none. As the
 * engine reckons: before the low end of the crossing, where there is none before the next site that measures, where the line
 * ends before the gap that the rules assume, each with the way to stop to spare. These it counts from the train's last site.
 */
export function lastToStopAt(
  { level, crossing, nextSite }: Pick<Warning, "level" | "crossing" | "nextSite">,
  onMiles: number,
  { train, hazard }: Pick<Rules, "train" | "hazard">,
): number {
  if (level === "limit") return 0;
  return (crossing?.low ?? nextSite?.miles ?? hazard.assumedGapMiles) - train.stoppingMiles + onMiles;
}

/** Counted from where the train was last heard, without what lies behind it. */
function stillAhead<T extends { miles: number }>(places: readonly T[], onMiles: number): T[] {
  return places.map((one) => ({ ...one, miles: one.miles - onMiles })).filter((one) => one.miles > 0.01);
}

function journeyOf(state: DeskState, found: WarningCase): Journey | null {
  const byId = state.journey(found.last.journey)?.journey;
  if (byId !== undefined) return byId;
  for (const trains of state.trains.values()) {
    const journey = trains.journeyOf(found.last.pass);
    if (journey !== null) return journey;
  }
  return null;
}

/** Why a reading counts, or does not, in a sentence. */
export function whyCounts({ used, riseF }: EvidenceReading): string {
  switch (used) {
    case "used":
      return "counts in full";
    case "low-outlier":
      return "far below the others: a scanner can read too low, so it hardly counts";
    case "doubted":
      return "the scanner or the whole side was doubted at this pass, so it counts less";
    case "missing":
      return riseF === null ? "the axle was not seen or not measured here" : "not used";
  }
}

/** What lies ahead of the last pass. Where that pass did not see the axle its track is not told, and nothing is said. */
function waysAhead(railroad: Railroad, warning: Warning): Way[] {
  if (!railroad.sites.has(warning.site)) return [];
  return railroad.ahead(warning.site, warning.track, warning.direction, HOPS_AHEAD);
}

/** Places on the ways ahead. Nobody here knows the train's route: whether a place lies on every way is told with it. */
export function setOutsAhead(
  warning: Pick<Warning, "setOut">,
  ways: readonly Way[],
  lastMiles: number,
  heard: ReadonlySet<string>,
): Omit<OneWarning["setOuts"][number], "arrivesMs">[] {
  const found = new Map<string, Omit<OneWarning["setOuts"][number], "arrivesMs">>();
  const leaves = ways.filter(({ site }) => !ways.some(({ over }) => over.includes(site)));
  for (const way of ways) {
    for (const { setOut, miles } of way.setOuts) {
      const { name, milepost, carLengths } = setOut;
      const chosen = warning.setOut?.place === setOut.id;
      if (found.has(setOut.id)) continue;
      const has = (way: Way) => way.setOuts.some((one) => one.setOut.id === setOut.id);
      const passed = ways.some((one) => heard.has(one.site) && has(one));
      const onEveryWay = leaves.every(has);
      found.set(setOut.id, { name, milepost, miles, carLengths, chosen, inTime: miles <= lastMiles, onEveryWay, passed });
    }
  }
  return [...found.values()].sort((a, b) => a.miles - b.miles);
}

function sitesAhead(
  railroad: Railroad,
  ways: readonly Way[],
  heard: ReadonlySet<string>,
): Omit<OneWarning["sitesAhead"][number], "arrivesMs">[] {
  return ways
    .map(({ site, miles }) => ({ site, name: railroad.sites.get(site)?.name ?? site, miles, heard: heard.has(site) }))
    .sort((a, b) => a.miles - b.miles);
}
