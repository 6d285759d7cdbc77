/** `watch`: looked at closely; `warn`: act before the next site; `limit`: the site's own hard limit was reached. */
export type Level = "watch" | "warn" | "limit";

/**
 * Alarm states in the words of IEC 62682. A bearing warning is latched: a lower reading does not clear it, an
 * inspection result does. `withdrawn` is ours: a late pass showed that this warning should have had another id or none.
 */
export type AlarmState = "unacknowledged" | "acknowledged" | "shelved" | "out-of-service" | "cleared" | "withdrawn";

export interface EvidenceReading {
  site: string;
  milepost: number;
  pass: string;
  time: string;
  /** As the train ran over that site, from 1. null: the axle was not seen there. */
  axle: number | null;
  /** Miles since the journey's first pass. */
  miles: number;
  riseF: number | null;
  leveledF: number | null;
  /** Median and spread of the rest of the train's same side. */
  sideMedianF: number;
  sideSpreadF: number;
  biasF: number;
  used: "used" | "low-outlier" | "doubted" | "missing";
}

/** A change of level, state or projection is a new version of the same id. */
export interface Warning {
  id: string;
  version: number;
  /** Event time of what led to this version. */
  time: string;
  /** Only where it was made from data that was old already: whole minutes from the pass to its being looked at. */
  lateMinutes?: number | undefined;
  level: Level;
  state: AlarmState;
  /** A late pass changed what had been said. */
  correction: boolean;
  supersededBy: string | null;
  corridor: string;
  site: string;
  track: string;
  pass: string;
  direction: "rising" | "falling";
  train: string | null;
  journey: string;
  /** As the train ran over `site`, from 1. */
  axle: number;
  /** In the direction of travel. */
  side: "left" | "right";
  vehicle: {
    ordinal: number;
    ordinalOfKind: number;
    kind: "car" | "locomotive";
    id: string | null;
    axleInVehicle: number;
    axlesInVehicle: number;
    truck: number;
    trucks: number;
    axleInTruck: number;
    confidence: number;
  } | null;
  /** "car 47 from the head, second axle of its rear truck, right side in the direction of travel (axle 187)". */
  place: string;
  heat: "bearing" | "brakes" | "scanner" | "sun" | "none";
  riseF: number | null;
  leveledF: number | null;
  slopeFPerMile: number | null;
  slopeFPerMinute: number | null;
  limitF: number;
  /** Only where the limit reached is the one between the two ends of its axle: how much hotter this end reads, and that limit. */
  axleDifference?: { overF: number; limitF: number } | undefined;
  /** Only where the critical limit is reached: stop at once. */
  critical?: true | undefined;
  chances: { rising: number; steady: number; wandering: number; healthy: number; beforeNextSite: number; beforeNextButOne: number };
  crossing: {
    miles: number;
    low: number;
    high: number;
    minutes: number | null;
    milepost: number | null;
    line: string | null;
    chance: number;
  } | null;
  nextSite: { site: string; miles: number } | null;
  /** null: there is none before the low end of the crossing; the advice then says stop. */
  setOut: { place: string; name: string; milepost: number; miles: number; carLengths: number } | null;
  /** Miles since the bearing was last measured, 0 when at this pass. */
  lastSeenMiles: number;
  evidence: EvidenceReading[];
  reasons: string[];
  rules: string;
  advice: string;
  /** What this is not; shown wherever a warning is shown. */
  caution: string;
}
