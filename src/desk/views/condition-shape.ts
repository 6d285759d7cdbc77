import * as z from "zod";
import { ms } from "./row-shape.ts";

/** What is the matter with a site, as schemas. */

/** A site that says nothing of trains now: dead, cut off, silent, or out of service. `device`: "" the whole site, else its track. */
export const notSeeing = z.object({ site: z.string(), kind: z.string(), device: z.string(), raisedMs: ms });
export type NotSeeing = z.infer<typeof notSeeing>;

export const condition = z.object({
  id: z.string(),
  version: z.int(),
  site: z.string(),
  device: z.string(),
  kind: z.string(),
  state: z.enum(["raised", "cleared"]),
  raisedMs: ms,
  changedMs: ms,
  words: z.string(),
  advice: z.string(),
  evidence: z.array(z.string()),
  alarm: z.nullable(z.string()).meta({ description: "Alarm state in the words of IEC 62682." }),
  by: z.nullable(z.string()),
  reason: z.nullable(z.string()),
  untilMs: z.nullable(ms),
});
