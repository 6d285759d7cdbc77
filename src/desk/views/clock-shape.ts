import * as z from "zod";
import { ms } from "./row-shape.ts";

/** The clock that every answer carries, as a schema. */

export const clock = z.object({
  nowMs: ms.meta({ description: "The desk's time." }),
  speed: z.number().meta({ description: "Desk seconds a second; not 1 only in a demonstration." }),
  dataMs: z.nullable(ms).meta({ description: "Latest event time heard of any site." }),
  lacks: z
    .array(
      z.object({
        what: z.enum(["passes", "site-reports", "consists", "calibrations"]),
        fromMs: z.nullable(ms).meta({ description: "From when on it is there; null: not at all." }),
      }),
    )
    .meta({ description: "Looking back: what the log no longer holds of what this page would show." }),
});
