import type { Consist, DeskAction, SiteReport, Tick } from "../feed/record.ts";
import type { Pass } from "../pass/pass.ts";

/**
 * What one corridor folds. Over a log all of it comes through one partition of `passes`, so that it has one order and what
 * the corridor publishes follows from that order alone.
 */
export type Followed = { type: "pass"; pass: Pass } | Consist | SiteReport | DeskAction | Tick;
