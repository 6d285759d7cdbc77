import * as z from "zod";
import type { PassFlag } from "../../pass/pass.ts";
import type { PassRecord } from "../../pass/pass-record.ts";
import type { Vehicle } from "../../pass/vehicle.ts";
import { id, madeId, type Same, spacedId, time } from "../fields.ts";
import { AXLES_A_PASS } from "../limits.ts";

/** Schema of the outbound topic `passes`: an assembled pass, in °F above ambient, inches and mph. */

export const passFlag = z.enum([
  "no-begin",
  "no-end",
  "timed-out",
  "missing-axles",
  "count-mismatch",
  "out-of-order",
  "repeat-differs",
  "slow",
  "stopped-over-site",
  "reversed-over-site",
  "scanner-left",
  "scanner-right",
  "power",
  "no-ambient",
  "units-doubted",
  "clock-doubted",
]);

const axleCount = z.int().gte(0).lte(AXLES_A_PASS);
const column = z.array(z.nullable(z.number())).max(AXLES_A_PASS);
const rail = z.object({
  bearing: column.meta({ description: "°F above ambient; null = not measured." }),
  wheel: z.nullable(column).meta({ description: "null when the site sends no wheel readings." }),
});

export const vehicle = z.object({
  kind: z.enum(["locomotive", "car"]),
  ordinal: z.int().gte(1),
  ordinalOfKind: z.int().gte(1).meta({ description: "Among its kind, from the head: car 164 does not count locomotives." }),
  firstRow: z.int().gte(0).meta({ description: "Row of its first axle, from 0." }),
  axles: axleCount,
  trucks: z.array(z.int().gte(1)).max(AXLES_A_PASS),
  id: z.nullable(spacedId),
  confidence: z.number().gte(0).lte(1),
});

export const pass = z
  .object({
    id: madeId,
    version: z.literal(1),
    time,
    site: id,
    track: id,
    pass: id,
    direction: z.enum(["rising", "falling"]),
    directionDoubted: z.boolean(),
    begun: time,
    ended: time,
    ambient: z.nullable(z.number()).meta({ description: "°F." }),
    train: z.nullable(spacedId),
    axles: axleCount,
    axlesSaid: z.nullable(axleCount).meta({ description: "What the site counted; null when its end never came." }),
    completeness: z.number().gte(0).lte(1),
    flags: z.array(passFlag).max(passFlag.options.length),
    clockAheadMs: z.number().optional().meta({ description: "With clock-doubted: what the site's clock was ahead of these times." }),
    vehicles: z.array(vehicle).max(AXLES_A_PASS),
    ms: column.meta({ description: "Milliseconds since the pass began." }),
    gap: column.meta({ description: "Inches from the previous axle." }),
    speed: column.meta({ description: "mph." }),
    left: rail.meta({ description: "Left rail, facing rising mileposts." }),
    right: rail.meta({ description: "Right rail, facing rising mileposts." }),
    tags: z
      .array(z.tuple([z.int().gte(0), spacedId]))
      .max(AXLES_A_PASS)
      .meta({ description: "[row, tag], rows from 0." }),
  })
  .meta({ title: "Pass", description: "One train over one site, assembled." });

true satisfies Same<z.output<typeof passFlag>, PassFlag>;
true satisfies Same<z.output<typeof vehicle>, Vehicle>;
true satisfies Same<z.output<typeof pass>, PassRecord>;
