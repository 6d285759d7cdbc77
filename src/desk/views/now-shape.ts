import * as z from "zod";
import { clock } from "./clock-shape.ts";
import { ms, row } from "./row-shape.ts";

/** What needs a decision, as a schema. */

export const now = z.object({
  clock,
  place: z.string().meta({ description: "Where the stream of changes stood: live updates go on from here." }),
  total: z.int(),
  from: z.int(),
  rows: z.array(row),
  needs: z.object({ decide: z.int(), "in-hand": z.int(), watch: z.int(), aside: z.int(), closed: z.int() }),
  sites: z.array(z.object({ site: z.string(), name: z.string(), kind: z.string(), words: z.string(), raisedMs: ms })),
  unknownActions: z.int().meta({ description: "Warnings let go by the desk's bound." }),
});
export type Now = z.infer<typeof now>;
