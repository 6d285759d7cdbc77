import * as z from "zod";
import { level, ms, row } from "./row-shape.ts";

/** A train vehicle by vehicle, as a schema. Temperatures °F. */

/** Readings of a bearing on one leg, for the strip of vehicles. */
export const stripLeg = z.object({
  pass: z.string(),
  site: z.string(),
  name: z.string(),
  timeMs: ms,
  flipped: z.boolean(),
  directionDoubted: z.boolean(),
  medianF: z.tuple([z.nullable(z.number()), z.nullable(z.number())]),
  vehicles: z.array(
    z.object({
      kind: z.enum(["car", "locomotive"]),
      ordinalOfKind: z.int(),
      id: z.nullable(z.string()),
      firstRow: z.int(),
      axles: z.int(),
      confidence: z.number(),
    }),
  ),
  axles: z.int(),
  left: z.array(z.nullable(z.number())).meta({ description: "Rise by axle, left side in the direction of travel." }),
  right: z.array(z.nullable(z.number())),
  marked: z.array(z.object({ axle: z.int(), side: z.enum(["left", "right"]), warning: z.string(), level, heat: row.shape.heat })),
});
export type StripLeg = z.infer<typeof stripLeg>;
