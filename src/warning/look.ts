import type { BearingTrack, HeatKind, Outlook } from "../bearing/track.ts";
import { type Journey, type Leg, railOfSide, travelSide } from "../journey/journey.ts";
import type { Railroad, Way } from "../line/railroad.ts";
import type { Pass } from "../pass/pass.ts";
import { placeOf, placeWords } from "../pass/place.ts";
import { waysAhead } from "./ahead.ts";
import { lastSeen, rowOn } from "./axle.ts";
import { doubtsOf } from "./doubts.ts";
import type { RuleBook } from "./rule-book.ts";
import { type Limits, limitsOf } from "./rule-set.ts";
import { measuredMph } from "./speed.ts";

/** Whether a pass shows the axle. `not-counted`: others of its vehicle are in the pass; `gone`: none of them is. */
export type Presence = "here" | "not-counted" | "gone";

/** All that is known of one bearing when one pass is complete: what a decision is made from, and nothing else. */
export interface Look {
  /** Event time at which the pass was complete. */
  timeMs: number;
  siteName: string;
  milepost: number;
  train: string | null;
  keyTrain: boolean;
  limits: Limits;
  heat: HeatKind;
  /** null when the bearing could not be followed (no level of the side, say); the limits hold all the same. */
  outlook: Outlook | null;
  /** °F above ambient as measured at this pass; NaN when it was not. */
  riseF: number;
  /** The other bearing of the axle, and the wheel beside it, at this pass; NaN when not measured. */
  mateRiseF: number;
  wheelRiseF: number;
  /** Over the same side of the train, scanner bias out; and that side: median and spread. NaN when unknown. */
  excessF: number;
  sideMedianF: number;
  sideSpreadF: number;
  /** One reading for every leg so far, this one last. */
  track: BearingTrack;
  /** Measured readings among them. */
  readings: number;
  /** Miles since the bearing was last measured, 0 at this pass. */
  milesSinceSeen: number;
  presence: Presence;
  /** What is doubted about this pass, in words. */
  doubts: string[];
  /** What else is to be said of it, in sentences. */
  notes?: readonly string[] | undefined;
  /** To the next site that will measure the train, and the next but one. */
  ahead: readonly Way[];
  /** NaN when unknown. */
  speedMph: number;
  /** How far the bearing is past the site when the pass is complete: the rest of the train ran over it since. */
  beyondMiles: number;
  /** false: the event is older than the first rule set. */
  rulesInForce: boolean;
  /** Where it is, for the crew, and which vehicle that is; as of the last pass that showed it. */
  place(): string;
  vehicle(): string;
  /** Name of a site by its id. */
  nameOf(site: string): string;
}

export interface LookInput {
  railroad: Railroad;
  book: RuleBook;
  journey: Journey;
  /** Leg whose pass is looked at. */
  legIndex: number;
  /** Or what axleOffRoster gives. */
  rosterAxle: number;
  side: 0 | 1;
  track: BearingTrack;
  outlook: Outlook | null;
  heat: HeatKind;
  keyTrain: boolean;
}

/** What one pass shows of a bearing. `not-measured`: its axle came by without a reading. */
export type Sight = "measured" | "not-measured" | Exclude<Presence, "here">;

export function sightOf({ riseF, presence }: Pick<Look, "riseF" | "presence">): Sight {
  if (!Number.isNaN(riseF)) return "measured";
  return presence === "here" ? "not-measured" : presence;
}

const INCHES_PER_MILE = 63_360;

/** Whether a leg has a bearing's axle, and if not, whether its whole vehicle is gone. */
export function presenceAt(journey: Journey, legIndex: number, rosterAxle: number): Presence {
  const leg = journey.legs[legIndex]!;
  return presenceOf(lastSeen(journey, legIndex, rosterAxle), leg, legIndex, rowOn(leg, legIndex, rosterAxle));
}

function presenceOf(seen: { leg: Leg; row: number } | null, leg: Leg, legIndex: number, row: number): Presence {
  if (row >= 0) return "here";
  return seen !== null && isGone(seen, leg, legIndex) ? "gone" : "not-counted";
}

/** Whether none of the axles that stood in the vehicle when it was last seen is on this leg. */
function isGone(seen: { leg: Leg; row: number }, leg: Leg, legIndex: number): boolean {
  const vehicle = seen.leg.pass.vehicles[seen.leg.pass.vehicleOfAxle[seen.row] ?? -1];
  if (vehicle === undefined) return false;
  for (let row = vehicle.firstRow; row < vehicle.firstRow + vehicle.axles; row++) {
    const axle = seen.leg.rosterOfRow[row] ?? -1;
    if (axle >= 0 && rowOn(leg, legIndex, axle) >= 0) return false;
  }
  return true;
}

/** Puts a look together from a journey's leg. Pure. */
export function lookAt(input: LookInput): Look {
  const { railroad, journey, track } = input;
  const leg = journey.legs[input.legIndex]!;
  const site = railroad.sites.get(leg.pass.site);
  if (site === undefined) throw new Error(`look: site ${leg.pass.site} is not in the line file; the pass should have been refused`);
  const rail = railOfSide(leg, input.side);
  const row = rowOn(leg, input.legIndex, input.rosterAxle);
  const seen = lastSeen(journey, input.legIndex, input.rosterAxle);
  const rules = input.book.at(leg.pass.endedMs);
  return {
    timeMs: leg.pass.endedMs,
    siteName: site.name,
    milepost: site.milepost,
    train: journey.train,
    keyTrain: input.keyTrain,
    limits: limitsOf(rules, site.kind, input.keyTrain),
    heat: input.heat,
    outlook: input.outlook,
    riseF: valueAt(leg.pass.bearingRiseF[rail], row),
    mateRiseF: valueAt(leg.pass.bearingRiseF[rail === 0 ? 1 : 0], row),
    wheelRiseF: leg.pass.wheelRiseF === null ? Number.NaN : valueAt(leg.pass.wheelRiseF[rail], row),
    excessF: valueAt(leg.levels.excessF[rail], row),
    sideMedianF: leg.levels.medianF[rail],
    sideSpreadF: leg.levels.spreadF[rail],
    track,
    readings: track.reduce((count, reading) => (Number.isNaN(reading.riseF) ? count : count + 1), 0),
    milesSinceSeen: milesSinceMeasured(track),
    presence: presenceOf(seen, leg, input.legIndex, row),
    doubts: doubtsOf(leg, rail),
    notes: leg.notes,
    ahead: waysAhead(railroad, leg),
    speedMph: measuredMph(leg, row),
    beyondMiles: row < 0 ? 0 : milesBehind(leg.pass, row),
    rulesInForce: input.book.inForce(leg.pass.endedMs),
    place: () =>
      seen === null
        ? "place unknown"
        : placeWords(seen.leg.pass, seen.row, travelSide(seen.leg.direction, railOfSide(seen.leg, input.side))),
    vehicle: () => (seen === null ? "its vehicle" : vehicleWords(seen.leg.pass, seen.row)),
    nameOf: (id) => railroad.sites.get(id)?.name ?? id,
  };
}

/**
 * °F over the bearing's own kind (Levels.excessF) at which the limit is reached on this leg: what the outlook is asked
 * about. From the bearing's own reading where there is one, for locomotives are levelled against locomotives.
 */
export function limitExcessF(limits: Limits, leg: Leg, row: number, rail: 0 | 1): number {
  const levelF = valueAt(leg.pass.bearingRiseF[rail], row) - leg.levels.biasF[rail] - valueAt(leg.levels.excessF[rail], row);
  if (!Number.isNaN(levelF)) return limits.bearingF - levelF;
  const medianF = leg.levels.medianF[rail];
  return limits.bearingF - (Number.isNaN(medianF) ? 0 : medianF);
}

/** "car 47 from the head (QX 100547)". */
function vehicleWords(pass: Pass, row: number): string {
  const place = placeOf(pass, row);
  if (place === null) return `the vehicle of axle ${row + 1}`;
  const { kind, ordinalOfKind, id } = place.vehicle;
  return `${place.about ? "about " : ""}${kind} ${ordinalOfKind} from the head${id === null ? "" : ` (${id})`}`;
}

function milesSinceMeasured(track: BearingTrack): number {
  const now = track.at(-1)?.miles ?? 0;
  const last = track.findLast((reading) => !Number.isNaN(reading.riseF));
  return now - (last ?? track[0])!.miles;
}

/** Length of train behind an axle. A gap that was not measured counts nothing: a little too short is the careless side by feet only. */
function milesBehind(pass: Pass, row: number): number {
  let inches = 0;
  for (let i = row + 1; i < pass.axles; i++) {
    const gap = pass.gapInches[i]!;
    if (gap > 0) inches += gap;
  }
  return inches / INCHES_PER_MILE;
}

function valueAt(column: Float32Array, row: number): number {
  return row < 0 ? Number.NaN : (column[row] ?? Number.NaN);
}
