import type { Calibration } from "../bearing/calibration.ts";
import type { Rejected } from "../feed/record.ts";
import type { JoinDoubt, Journey, Leg } from "../journey/journey.ts";
import type { Pass } from "../pass/pass.ts";
import type { SiteCondition } from "../site/condition.ts";
import type { Warning } from "../warning/warning.ts";

/** Where the folds put what comes out of them, in order. */
export interface Sink {
  pass(pass: Pass): void;
  warning(warning: Warning): void;
  condition(condition: SiteCondition): void;
  calibration(calibration: Calibration): void;
  rejected(rejected: Rejected): void;
  /** A pass that no late one can change any more, with the journey it belongs to. */
  settled(journey: Journey, leg: Leg, doubt: JoinDoubt | null, corridor: string): void;
}

/** What became of a record; the four counts add up to the records read. */
export type Outcome = "used" | "late" | "repeated" | "rejected";
