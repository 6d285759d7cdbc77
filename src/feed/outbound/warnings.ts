import * as z from "zod";
import type { EvidenceReading, Warning } from "../../warning/warning.ts";
import { id, madeId, type Same, spacedId, time } from "../fields.ts";
import { AXLES_A_PASS } from "../limits.ts";

/** Schema of the outbound topic `warnings`: every change of level, state or projection is a new version of the same id. */

const chance = z.number().gte(0).lte(1);
const axle = z.int().gte(1).lte(AXLES_A_PASS).meta({ description: "As the train ran over that site, from 1." });
const ordinal = z.int().gte(1);
const words = z.string();

export const evidence = z.object({
  site: id,
  milepost: z.number(),
  pass: madeId,
  time,
  axle: z.nullable(axle),
  miles: z.number().meta({ description: "Since the journey's first pass." }),
  riseF: z.nullable(z.number()),
  leveledF: z.nullable(z.number()),
  sideMedianF: z.number(),
  sideSpreadF: z.number(),
  biasF: z.number(),
  used: z.enum(["used", "low-outlier", "doubted", "missing"]),
});

const vehicle = z.object({
  ordinal,
  ordinalOfKind: ordinal,
  kind: z.enum(["car", "locomotive"]),
  id: z.nullable(spacedId),
  axleInVehicle: ordinal,
  axlesInVehicle: ordinal,
  truck: ordinal,
  trucks: ordinal,
  axleInTruck: ordinal,
  confidence: chance,
});

const crossing = z
  .object({
    miles: z.number(),
    low: z.number(),
    high: z.number(),
    minutes: z.nullable(z.number()),
    milepost: z.nullable(z.number()),
    line: z.nullable(z.string()),
    chance,
  })
  .meta({ description: "Where the bearing would reach the limit: median and 80 % interval, miles from this pass." });

export const warning = z
  .object({
    id: madeId,
    version: ordinal,
    time,
    lateMinutes: z.int().gte(1).optional().meta({
      description: "Only where it was made from data that was old already: whole minutes from the pass to its being looked at.",
    }),
    level: z.enum(["watch", "warn", "limit"]),
    state: z.enum(["unacknowledged", "acknowledged", "shelved", "out-of-service", "cleared", "withdrawn"]),
    correction: z.boolean(),
    supersededBy: z.nullable(madeId),
    corridor: z.string(),
    site: id,
    track: id,
    pass: madeId,
    direction: z.enum(["rising", "falling"]),
    train: z.nullable(spacedId),
    journey: madeId,
    axle,
    side: z.enum(["left", "right"]).meta({ description: "In the direction of travel." }),
    vehicle: z.nullable(vehicle),
    place: words,
    heat: z.enum(["bearing", "brakes", "scanner", "sun", "none"]),
    riseF: z.nullable(z.number()),
    leveledF: z.nullable(z.number()),
    slopeFPerMile: z.nullable(z.number()),
    slopeFPerMinute: z.nullable(z.number()),
    limitF: z.number(),
    axleDifference: z.object({ overF: z.number(), limitF: z.number() }).optional().meta({
      description:
        "Only where the limit reached is the one between the two ends of its axle: how much hotter this end reads, and that limit.",
    }),
    critical: z.literal(true).optional().meta({ description: "Only where the critical limit is reached: stop at once." }),
    chances: z.object({
      rising: chance,
      steady: chance,
      wandering: chance,
      healthy: chance,
      beforeNextSite: chance,
      beforeNextButOne: chance,
    }),
    crossing: z.nullable(crossing),
    nextSite: z.nullable(z.object({ site: id, miles: z.number() })),
    setOut: z.nullable(z.object({ place: z.string(), name: words, milepost: z.number(), miles: z.number(), carLengths: z.number() })),
    lastSeenMiles: z.number(),
    evidence: z.array(evidence),
    reasons: z.array(words),
    rules: z.string(),
    advice: words,
    caution: words,
  })
  .meta({ title: "Warning", description: "A bearing that is watched, warned of, or at the limit. Advice only." });

true satisfies Same<z.output<typeof evidence>, EvidenceReading>;
true satisfies Same<z.output<typeof warning>, Warning>;
