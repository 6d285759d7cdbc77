import * as z from "zod";
import { type Same, spacedId, time } from "./fields.ts";
import { AXLES_A_VEHICLE, VEHICLE_LENGTH_HIGH, VEHICLES_A_CONSIST } from "./limits.ts";
import type { Consist } from "./record.ts";

/** Schema of the topic `consists`, key `<train>`: the vehicles of a train from the head end. */

const vehicle = z.object({
  id: spacedId,
  kind: z.enum(["car", "locomotive"]),
  axles: z.int().gte(1).lte(AXLES_A_VEHICLE),
  loaded: z.boolean().optional(),
  placarded: z.boolean().optional(),
  length: z.number().gt(0).lte(VEHICLE_LENGTH_HIGH).optional(),
});

export const consist = z
  .object({
    type: z.literal("consist"),
    train: spacedId,
    time,
    key: z.boolean().meta({ description: "A key train in the sense of the railroad's rules." }),
    vehicles: z.array(vehicle).min(1).max(VEHICLES_A_CONSIST),
  })
  .meta({ title: "Consist", description: "The vehicles of a train from the head end." });

export const consists = { consist } as const;

true satisfies Same<z.output<typeof consist>, Consist>;
