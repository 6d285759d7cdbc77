import type { Calibration } from "../bearing/calibration.ts";
import type { Consist, DeskAction, LineAnnounced, Rejected, SiteReport, Tick } from "../feed/record.ts";
import type { JoinDoubt, Journey, Leg } from "../journey/journey.ts";
import type { Pass } from "../pass/pass.ts";
import type { SiteCondition } from "../site/condition.ts";
import type { EquipmentSeen } from "../site/equipment-seen.ts";
import type { FunctionalTestRecord } from "../site/functional-test.ts";
import type { LeftOut } from "../site/watch.ts";
import type { Warning } from "../warning/warning.ts";
import type { Kept } from "./followed.ts";

/** Where the assembling stage puts what comes out of it, in order: for the corridors named, or refused. */
export interface AssembleSink {
  pass(pass: Pass, corridors: readonly string[]): void;
  /** What else the corridors fold. What became of it there, where that is known at once. */
  forward(record: Consist | SiteReport | DeskAction | Tick | LineAnnounced, corridors: readonly string[]): Outcome;
  rejected(rejected: Rejected): void;
}

/** Where the following stage puts what comes out of it, in order. */
export interface FollowSink {
  warning(warning: Warning): void;
  condition(condition: SiteCondition): void;
  /** The record of a closed functional test, and a site's own report joined with its pass; left out: nobody asks. */
  functionalTest?: ((record: FunctionalTestRecord) => void) | undefined;
  equipment?: ((seen: EquipmentSeen) => void) | undefined;
  /** A pass that belongs to no journey: a functional test's, or of a site out of service. */
  leftOut?: ((pass: Pass, why: LeftOut, corridor: string) => void) | undefined;
  calibration(calibration: Calibration): void;
  /** For this corridor's own input, so that it is found again after a restart. */
  keep(kept: Kept, corridor: string): void;
  /** A pass that no late one can change any more, with the journey it belongs to. */
  settled(journey: Journey, leg: Leg, doubt: JoinDoubt | null, corridor: string): void;
}

/** Where both stages together put what comes out of them, in order. */
export interface Sink extends Omit<FollowSink, "keep"> {
  pass(pass: Pass): void;
  rejected(rejected: Rejected): void;
}

/** What became of a record; the four counts add up to the records read. */
export type Outcome = "used" | "late" | "repeated" | "rejected";
