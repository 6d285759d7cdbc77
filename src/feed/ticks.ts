import * as z from "zod";
import { type Same, time } from "./fields.ts";
import type { Tick } from "./record.ts";

/** Schema of a tick: how wall-clock time enters the log. Written by the running program, never by a site. */
export const tick = z
  .object({
    type: z.literal("tick"),
    time,
    source: z
      .string()
      .max(300)
      .regex(/^[A-Za-z0-9._-]+\/\d{1,6}$/)
      .meta({ description: "<topic>/<partition> that the tick was written to." }),
    of: z.int().gte(1).lte(100_000).meta({ description: "How many such sources there are." }),
  })
  .meta({ title: "Tick", description: "Wall-clock time, as a record among the others of its partition." });

true satisfies Same<z.output<typeof tick>, Tick>;
