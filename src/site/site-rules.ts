import * as z from "zod";
import { SPOILT_TRAINS_OF } from "./watch-numbers.ts";

/**
 * What a railroad may set about its sites: section `sites` of a rules file. Every number has a default, so a file without
 * the section, or with a part of it, is whole. The comments of `replay-data/rules` say what each number does.
 */
const count = z.int().min(1).max(1000);
const minutes = z.number().min(0.5).max(10_080);
const days = z.number().min(0).max(3660);
const degreesF = z.number().min(1).max(1000);

export const siteRulesSchema = z.strictObject({
  heartbeat: z
    .strictObject({ deadAfterIntervals: z.number().min(1.5).max(100).default(2.5), connectionFewestSites: count.min(2).default(3) })
    .prefault({}),
  silentAfterTrains: count.default(2),
  clock: z.strictObject({ offsetMinutes: minutes.default(2), lateMinutes: minutes.default(10) }).prefault({}),
  miscountsPer1000: z.number().min(0.1).max(500).default(2),
  scalePercent: z.number().min(0.5).max(50).default(2),
  scanner: z
    .strictObject({
      driftF: degreesF.default(12),
      sunLongestHours: z.number().min(0).max(24).default(6),
      snowBelowF: z.number().min(-60).max(80).default(38),
    })
    .prefault({}),
  rejectedPerHour: count.default(20),
  rejectedAtTrains: z.int().min(1).max(SPOILT_TRAINS_OF).default(4),
  alarms: z.strictObject({ untoldMinutes: minutes.default(5), disagreeF: degreesF.default(40) }).prefault({}),
  desk: z.strictObject({ shelveMaxHours: z.number().min(0).max(8784).default(72) }).prefault({}),
  tests: z
    .strictObject({
      everyDays: days.default(30),
      dueSoonDays: days.default(5),
      leftOpenMinutes: minutes.default(120),
      bearingRiseF: degreesF.default(100),
      wheelRiseF: degreesF.default(150),
      simulatedTrainAxlesMost: count.default(24),
      ambientF: degreesF.default(10),
    })
    .prefault({}),
});

export type SiteRules = z.output<typeof siteRulesSchema>;

/** What holds where a rules file says nothing of its sites. */
export const USUAL_SITE_RULES: SiteRules = siteRulesSchema.parse({});
