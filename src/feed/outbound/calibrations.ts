import * as z from "zod";
import type { Calibration } from "../../bearing/calibration.ts";
import { id, madeId, type Same, time } from "../fields.ts";

/** Schema of the topic `calibrations`: a scanner's learned bias, published and read back as an input. */
export const calibration = z
  .object({
    type: z.literal("calibration"),
    id: madeId,
    version: z.literal(1),
    time,
    site: id,
    track: id,
    rail: z.enum(["left", "right"]),
    biasF: z.number().meta({ description: "To be subtracted from readings, °F." }),
    sdF: z.number().gte(0),
    trains: z.int().gte(0),
    effectiveFromMs: z.number(),
  })
  .meta({ title: "Calibration", description: "What a scanner reads too much, learned from many trains." });

true satisfies Same<z.output<typeof calibration>, Calibration>;
