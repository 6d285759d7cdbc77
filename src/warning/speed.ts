import type { Leg } from "../journey/journey.ts";
import type { Look } from "./look.ts";
import type { Rules } from "./rule-set.ts";

/** Under this a train is stopping, and its speed over the site says nothing about the way ahead. Assumption. */
const RUNNING_MPH = 5;

/** Speed of an axle over the site, or the mean over the way there where the site sent none; NaN when neither is known. */
export function measuredMph(leg: Leg, row: number): number {
  const over = row < 0 ? Number.NaN : (leg.pass.speedMph[row] ?? Number.NaN);
  if (over >= RUNNING_MPH) return over;
  const mean = leg.join?.mph ?? Number.NaN;
  return mean >= RUNNING_MPH ? mean : Number.NaN;
}

/** Speed for minutes: measured, else the rules' assumed one (the reasons then say so). */
export function speedFor(look: Look, rules: Rules): number {
  return Number.isNaN(look.speedMph) ? rules.train.assumedSpeedMph : look.speedMph;
}
