import * as z from "zod";
import { ambient, column, id, type Same, spacedId, temperature, time } from "./fields.ts";
import { AXLES_A_PASS, AXLES_A_RECORD, GAP_HIGH, PASS_MS, SPEED_HIGH } from "./limits.ts";
import type { Axles, Integrity, PassBegun, PassEnded } from "./record.ts";

/** Schemas of the topic `axle-readings`, key `<site>/<track>`: a pass begins, its axles come, it ends. */

const direction = z.enum(["rising", "falling"]).meta({ description: "By milepost, as the site believes it." });
const reading = z.nullable(temperature);
const readings = column(reading, AXLES_A_RECORD);

export const integrity = z.enum(["slow", "stopped-over-site", "count-mismatch", "scanner-left", "scanner-right", "power"]);

export const passBegun = z
  .object({
    type: z.literal("pass-begun"),
    site: id,
    track: id,
    pass: id.meta({ description: "Unique per site and track for at least 24 hours." }),
    time,
    direction,
    ambient: ambient.nullish(),
    train: spacedId.nullish(),
  })
  .meta({ title: "PassBegun", description: "A train reached the site." });

const rail = z.object({ bearing: readings, wheel: readings.optional() });

/** Columns of equal length and the pass's bound on axles are beyond a JSON Schema: see `axlesFault`. */
export const axles = z
  .object({
    type: z.literal("axles"),
    site: id,
    track: id,
    pass: id,
    first: z.int().gte(1).lte(AXLES_A_PASS).meta({ description: "Ordinal of the first axle of the record, from 1." }),
    ms: column(z.number().gte(0).lte(PASS_MS), AXLES_A_RECORD).meta({ description: "Milliseconds since the pass began." }),
    gap: column(z.nullable(z.number().gte(0).lte(GAP_HIGH)), AXLES_A_RECORD).meta({
      description: "Distance from the previous axle, in the site's unit; null for the first axle or where not measured.",
    }),
    speed: column(z.nullable(z.number().gte(0).lte(SPEED_HIGH)), AXLES_A_RECORD).optional(),
    left: rail.meta({ description: "Left rail, facing rising mileposts." }),
    right: rail.meta({ description: "Right rail, facing rising mileposts." }),
    tag: column(z.nullable(spacedId), AXLES_A_RECORD).optional(),
  })
  .meta({ title: "Axles", description: "1 to 64 axles as columns of equal length." });

export const passEnded = z
  .object({
    type: z.literal("pass-ended"),
    site: id,
    track: id,
    pass: id,
    time,
    axles: z.int().gte(0).lte(AXLES_A_PASS).meta({ description: "Axles the site counted." }),
    integrity: z.array(integrity).max(integrity.options.length),
  })
  .meta({ title: "PassEnded", description: "The train has left the site." });

export const axleReadings = { "pass-begun": passBegun, axles, "pass-ended": passEnded } as const;

true satisfies Same<z.output<typeof passBegun>, PassBegun>;
true satisfies Same<z.output<typeof axles>, Axles>;
true satisfies Same<z.output<typeof passEnded>, PassEnded>;
true satisfies Same<z.output<typeof integrity>, Integrity>;

/**
 * What no schema of single fields can say of a record of axles: path of the first column whose length differs from `ms`,
 * or `first` when its last axle would lie beyond the pass's bound; null when all is well.
 */
export function axlesFault(record: Axles): "first" | "gap" | "speed" | "tag" | `${"left" | "right"}.${"bearing" | "wheel"}` | null {
  const n = record.ms.length;
  if (record.first + n - 1 > AXLES_A_PASS) return "first";
  if (record.gap.length !== n) return "gap";
  if (record.left.bearing.length !== n) return "left.bearing";
  if (record.right.bearing.length !== n) return "right.bearing";
  if (record.speed !== undefined && record.speed.length !== n) return "speed";
  if (record.left.wheel !== undefined && record.left.wheel.length !== n) return "left.wheel";
  if (record.right.wheel !== undefined && record.right.wheel.length !== n) return "right.wheel";
  if (record.tag !== undefined && record.tag.length !== n) return "tag";
  return null;
}
