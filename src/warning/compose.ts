import { HISTORY_LEGS } from "../bearing/history.ts";
import type { BearingTrack, Outlook } from "../bearing/track.ts";
import { type Journey, type Leg, railOfSide, travelSide } from "../journey/journey.ts";
import { excessOn, msOn, riseOn } from "../journey/leg-reading.ts";
import { lineBookOf } from "../line/line-book.ts";
import type { Railroad } from "../line/railroad.ts";
import type { Pass } from "../pass/pass.ts";
import { placeOf } from "../pass/place.ts";
import { isOffRoster, lastSeen, rowOn } from "./axle.ts";
import { milepostAhead } from "./crossing-place.ts";
import type { Decision } from "./decide.ts";
import { lateMinutes, lateReason } from "./late.ts";
import type { Look } from "./look.ts";
import type { Rules } from "./rule-set.ts";
import type { EvidenceReading, Level, Warning } from "./warning.ts";
import { rounded } from "./words.ts";

/** All of a warning but what its life adds: the id, the version, and what became of it. */
export type Content = Omit<Warning, "id" | "version" | "state" | "correction" | "supersededBy">;

export interface Composition {
  railroad: Railroad;
  corridor: string;
  journey: Journey;
  legIndex: number;
  rosterAxle: number;
  side: 0 | 1;
  look: Look;
  decision: Decision;
  rules: Rules;
}

/** Readings shown with a warning: the latest; longer journeys exist, longer tables are not read. */
export const MAX_EVIDENCE = HISTORY_LEGS;

const SIDES = ["left", "right"] as const;

/**
 * What a warning says after one leg. Numbers are rounded, so that the same decision gives the same bytes. Site, axle and
 * place are those of the last pass that held the axle; crossing, next site and set-out count from the leg's own site. A
 * lapsed watch still says `watch`: its state tells that it is over.
 */
export function compose(input: Composition): Content {
  const { railroad, journey, look, decision } = input;
  const leg = journey.legs[input.legIndex]!;
  const seen = lastSeen(journey, input.legIndex, input.rosterAxle);
  if (seen === null) throw new Error(`compose: axle ${input.rosterAxle} is on no leg of ${journey.id}`);
  const { pass } = seen.leg;
  const late = lateMinutes(leg.pass);
  return {
    time: new Date(decision.timeMs).toISOString(),
    ...(late === null ? {} : { lateMinutes: late }),
    level: decision.level ?? ("watch" satisfies Level),
    corridor: input.corridor,
    site: pass.site,
    track: pass.track,
    pass: pass.id,
    direction: seen.leg.direction,
    train: journey.train,
    journey: journey.id,
    axle: seen.row + 1,
    side: SIDES[travelSide(seen.leg.direction, railOfSide(seen.leg, input.side))],
    vehicle: vehicleAt(pass, seen.row),
    place: look.place(),
    heat: look.heat,
    riseF: gridded(look.riseF),
    leveledF: gridded(look.excessF),
    ...slopes(look, outlookOf(look, decision)),
    limitF: look.limits.bearingF,
    ...axleDifferenceOf(look, decision),
    ...(decision.cause === "critical" ? { critical: true as const } : {}),
    chances: chancesOf(outlookOf(look, decision), decision),
    crossing: crossingOf(lineBookOf(railroad).of(leg.pass.site, leg.pass.endedMs), leg, look, decision),
    nextSite: decision.nextSite === null ? null : { site: decision.nextSite.site, miles: rounded(decision.nextSite.miles, 2) },
    setOut: setOutOf(decision),
    lastSeenMiles: rounded(look.milesSinceSeen, 2),
    evidence: evidenceOf(input),
    reasons: late === null ? decision.reasons : [lateReason(late), ...decision.reasons],
    rules: decision.rules,
    advice: decision.advice,
    caution: input.rules.caution,
  };
}

function vehicleAt(pass: Pass, row: number): Warning["vehicle"] {
  const place = placeOf(pass, row);
  if (place === null) return null;
  const { vehicle, axleInVehicle, axlesInVehicle, truck, trucks, axleInTruck } = place;
  const { ordinal, ordinalOfKind, kind, id, confidence } = vehicle;
  return {
    ordinal,
    ordinalOfKind,
    kind,
    id,
    axleInVehicle,
    axlesInVehicle,
    truck,
    trucks,
    axleInTruck,
    confidence: rounded(confidence, 3),
  };
}

function axleDifferenceOf({ riseF, mateRiseF, limits }: Look, { cause }: Decision): Pick<Content, "axleDifference"> {
  if (cause !== "axle-difference") return {};
  return { axleDifference: { overF: rounded(riseF - mateRiseF, 2), limitF: limits.axleDifferenceF } };
}

/** What left the train has nothing ahead of it here. */
function outlookOf(look: Look, decision: Decision): Outlook | null {
  return decision.sight === "gone" ? null : look.outlook;
}

function slopes(look: Look, outlook: Outlook | null): Pick<Content, "slopeFPerMile" | "slopeFPerMinute"> {
  // Before the second reading the slope is the model's expectation, not a measurement.
  if (outlook === null || look.readings < 2) return { slopeFPerMile: null, slopeFPerMinute: null };
  const slope = outlook.slopeFPerMile;
  return {
    slopeFPerMile: rounded(slope, 2),
    slopeFPerMinute: Number.isNaN(look.speedMph) ? null : rounded((slope * look.speedMph) / 60, 2),
  };
}

function chancesOf(outlook: Outlook | null, decision: Decision): Warning["chances"] {
  if (outlook === null) return { rising: 0, steady: 0, wandering: 0, healthy: 0, beforeNextSite: 0, beforeNextButOne: 0 };
  return {
    rising: rounded(outlook.rising, 3),
    steady: rounded(outlook.steady, 3),
    wandering: rounded(outlook.wandering, 3),
    healthy: rounded(outlook.healthy, 3),
    beforeNextSite: rounded(decision.chanceNext ?? outlook.chanceNext, 3),
    beforeNextButOne: rounded(outlook.chanceNextButOne, 3),
  };
}

function crossingOf(railroad: Railroad, leg: Leg, look: Look, decision: Decision): Warning["crossing"] {
  const { crossing } = decision;
  if (crossing === null) return null;
  const place = milepostAhead(railroad, leg.pass.site, look.ahead, crossing.miles);
  return {
    miles: rounded(crossing.miles, 2),
    low: rounded(crossing.low, 2),
    high: rounded(crossing.high, 2),
    minutes: crossing.minutes === null ? null : rounded(crossing.minutes, 1),
    milepost: place?.milepost ?? null,
    line: place?.line ?? null,
    chance: rounded(crossing.chance, 3),
  };
}

function setOutOf(decision: Decision): Warning["setOut"] {
  const { chosen } = decision.setOut;
  if (chosen === null) return null;
  const { setOut, miles } = chosen;
  return { place: setOut.id, name: setOut.name, milepost: setOut.milepost, miles: rounded(miles, 2), carLengths: setOut.carLengths };
}

function evidenceOf(input: Composition): EvidenceReading[] {
  const { journey, look } = input;
  const lines = lineBookOf(input.railroad);
  const evidence: EvidenceReading[] = [];
  // An axle that is on no roster has no history.
  const first = isOffRoster(input.rosterAxle) ? input.legIndex : Math.max(0, input.legIndex + 1 - MAX_EVIDENCE);
  for (let i = first; i <= input.legIndex; i++) {
    const leg = journey.legs[i]!;
    const rail = railOfSide(leg, input.side);
    const row = rowOn(leg, i, input.rosterAxle);
    const riseF = row < 0 ? null : gridded(riseOn(leg, rail, row));
    evidence.push({
      site: leg.pass.site,
      milepost: lines.of(leg.pass.site, leg.pass.endedMs).sites.get(leg.pass.site)!.milepost,
      pass: leg.pass.id,
      time: new Date(timeOfRow(leg, row)).toISOString(),
      axle: row < 0 ? null : row + 1,
      miles: rounded(leg.miles, 2),
      riseF,
      leveledF: row < 0 ? null : gridded(excessOn(leg, rail, row)),
      sideMedianF: gridded(leg.levels.medianF[rail]) ?? 0,
      sideSpreadF: gridded(leg.levels.spreadF[rail]) ?? 0,
      biasF: gridded(leg.levels.biasF[rail]) ?? 0,
      used: usedAs(look.outlook?.used, look.track, i, riseF),
    });
  }
  return evidence;
}

function timeOfRow(leg: Leg, row: number): number {
  const ms = msOn(leg, row);
  return Number.isNaN(ms) ? leg.pass.endedMs : leg.pass.begunMs + ms;
}

/** The outlook speaks for one reading a leg, as the track does; without one a reading was used for the limits. */
function usedAs(
  used: EvidenceReading["used"][] | undefined,
  track: BearingTrack,
  leg: number,
  riseF: number | null,
): EvidenceReading["used"] {
  if (riseF === null) return "missing";
  if (used !== undefined && used.length === track.length) return used[leg] ?? "used";
  return track[leg]?.doubted === true ? "doubted" : "used";
}

/** On the grid of the readings, 0.01 °F, so that nothing under a limit is rounded up to it; null for what was not measured. */
function gridded(valueF: number): number | null {
  return Number.isFinite(valueF) ? rounded(valueF, 2) : null;
}
