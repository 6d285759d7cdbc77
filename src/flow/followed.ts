import type { Calibration } from "../bearing/calibration.ts";
import type { Consist, DeskAction, LineAnnounced, SiteReport, Tick } from "../feed/record.ts";
import type { Pass } from "../pass/pass.ts";
import type { WatchState } from "../site/watch-state.ts";
import type { Rules } from "../warning/rule-set.ts";
import type { Warning } from "../warning/warning.ts";
import type { Refused } from "./refused.ts";

/**
 * What one corridor folds. Over a log all of it comes through one partition of `passes`, so that it has one order and what
 * the corridor publishes follows from that order alone.
 */
export type Followed = { type: "pass"; pass: Pass } | Consist | SiteReport | DeskAction | Tick | Refused | Kept;

/**
 * What a corridor publishes and must know for longer than a re-fold reaches. It writes it into its own input as well, at
 * once or restated from time to time, and finds it there after a restart. Whoever still knows it learns nothing new.
 */
export type Kept =
  | Calibration
  | { type: "kept-warning"; warning: Warning }
  /** All that the watch over the sites remembered when the restatement began. */
  | { type: "kept-watch"; time: string; state: WatchState }
  /** Rules announced while running: in force from their own date on. */
  | { type: "rules"; time: string; rules: Rules }
  /** A state of the railroad announced while running, the same way. */
  | LineAnnounced
  | KeptMark;

/** Around a restatement: a re-fold from where it began has all that was kept. `time`: the time of the corridor it tells of. */
export interface KeptMark {
  type: "kept-mark";
  phase: "begun" | "ended";
  time: string;
}

/** What a corridor knew at a restatement and cannot find out again from what came after. */
export interface Memory {
  watch: WatchState;
  warnings: Warning[];
}
