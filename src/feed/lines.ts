import * as z from "zod";
import { type Same, time } from "./fields.ts";
import type { LineAnnounced } from "./record.ts";

/** Schema of a state of the railroad, announced while running. Written by the running program, never by a site. */
export const line = z
  .object({
    type: z.literal("line"),
    time,
    line: z.record(z.string(), z.unknown()).meta({ description: "The contents of a line file, dated by its `from`." }),
  })
  .meta({ title: "Line", description: "A dated state of the railroad, announced while running; in force from its own date on." });

true satisfies Same<z.output<typeof line>, LineAnnounced>;
