import * as z from "zod";
import type { EquipmentSeen } from "../../site/equipment-seen.ts";
import { id, madeId, type Same, spacedId, time } from "../fields.ts";

/** Schema of the outbound topic `equipment-seen`: a site's own report, joined with the pass that it is about. */

const rail = z.enum(["left", "right"]);

const vehicle = z.object({
  ordinal: z.int().gte(1),
  kind: z.enum(["locomotive", "car"]),
  ordinalOfKind: z.int().gte(1),
  id: spacedId.nullable(),
  axleInVehicle: z.int().gte(1),
  confidence: z.number().gte(0).lte(1),
});

export const equipmentSeen = z
  .object({
    type: z.literal("equipment-seen"),
    id: madeId,
    version: z.int().gte(1).meta({ description: "Rises when more became known: whether it dragged at the next site too." }),
    time: time.meta({ description: "The site's own time of its report." }),
    site: id,
    track: id,
    pass: madeId.nullable(),
    train: spacedId.nullable(),
    kind: z.enum(["hot-bearing", "hot-wheel", "dragging", "high", "wide", "integrity"]),
    axle: z.int().gte(1).nullable().meta({ description: "As the train ran over the site; for dragging, high and wide: near it." }),
    rail: rail.nullable().meta({ description: "Facing rising mileposts, as the site names it." }),
    side: rail.nullable().meta({ description: "In the direction of travel, as a crew is told." }),
    vehicle: vehicle.nullable(),
    reportedF: z.number().nullable().meta({ description: "What the site reported, °F above ambient." }),
    oursF: z.number().nullable().meta({ description: "What was read of the same axle, °F above ambient." }),
    agrees: z.boolean().nullable().meta({ description: "Whether the two agree; null where there is nothing to compare." }),
    announced: z.boolean().meta({ description: "Whether the site told the crew." }),
    toldAfterS: z.number().gte(0).nullable().meta({ description: "Seconds from the report's own time until it came." }),
    dragging: z
      .enum(["began-here", "again", "gone-at-next"])
      .nullable()
      .meta({ description: "Whether equipment also dragged at the site before or after." }),
    words: z.string(),
  })
  .meta({
    title: "EquipmentSeen",
    description: "A site's own report of a train: which vehicle, whether our reading of the same axle agrees, who was told.",
  });

true satisfies Same<z.output<typeof equipmentSeen>, EquipmentSeen>;
