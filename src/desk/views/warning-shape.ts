import * as z from "zod";
import { deskAction } from "../../feed/desk-actions.ts";
import { evidence, warning } from "../../feed/outbound/warnings.ts";
import { clock } from "./clock-shape.ts";
import { notSeeing } from "./condition-shape.ts";
import { level, ms, row, state } from "./row-shape.ts";
import { stripLeg } from "./strip-shape.ts";

/** One warning with its evidence, as a schema. Distances miles. */

const setOutAhead = z.object({
  name: z.string(),
  milepost: z.number(),
  miles: z.number(),
  carLengths: z.number(),
  chosen: z.boolean(),
  inTime: z.boolean().meta({ description: "The train can stop there before the limit could be reached; never so at the limit." }),
  onEveryWay: z.boolean().meta({ description: "Whichever way the train takes, it comes by." }),
  passed: z.boolean().meta({ description: "The train was heard since at a site behind it on its way." }),
  arrivesMs: z.nullable(ms),
});

const siteAhead = z.object({ site: z.string(), name: z.string(), miles: z.number(), arrivesMs: z.nullable(ms), heard: z.boolean() });

const versionNote = z.object({
  version: z.int(),
  timeMs: ms,
  arrivedMs: ms,
  level,
  state,
  riseF: z.nullable(z.number()),
  axleDifference: z.nullable(z.object({ overF: z.number(), limitF: z.number() })),
  critical: z.boolean(),
  site: z.string(),
  correction: z.boolean(),
});

export const oneWarning = z.object({
  clock,
  row,
  warning,
  evidence: z.array(evidence.extend({ name: z.string(), why: z.string() })),
  versions: z.array(versionNote),
  actions: z.array(z.object({ action: deskAction, arrivedMs: ms })),
  passedMiles: z.number().meta({ description: "Miles of the journey at the pass that led to the last version." }),
  setOuts: z.array(setOutAhead),
  sitesAhead: z.array(siteAhead),
  mph: z.nullable(z.number()).meta({ description: "Speed that arrivals are reckoned with; null: not measured." }),
  notSeeing: z.array(notSeeing).meta({ description: "Of the sites it was read at and those ahead." }),
  strip: z.array(stripLeg),
  shelveMaxHours: z.number(),
});
export type OneWarning = z.infer<typeof oneWarning>;
