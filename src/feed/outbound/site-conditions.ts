import * as z from "zod";
import type { SiteCondition } from "../../site/condition.ts";
import { id, madeId, type Same, time } from "../fields.ts";

/** Schema of the outbound topic `site-conditions`: raised, updated and cleared as versions of one id. */
export const siteCondition = z
  .object({
    id: madeId,
    version: z.int().gte(1),
    time,
    site: id,
    device: z.string().meta({ description: "A track (1), a scanner (1/left) or empty: the site." }),
    kind: z.enum([
      "dead",
      "silent",
      "direction",
      "miscount",
      "scale",
      "clock",
      "drift",
      "cold-scanner",
      "sun",
      "units",
      "fault",
      "feed-quality",
    ]),
    state: z.enum(["raised", "cleared"]),
    raisedAt: time,
    evidence: z.array(z.string()),
    words: z.string(),
    advice: z.string(),
  })
  .meta({ title: "SiteCondition", description: "Something about a site or one of its devices that needs attention." });

true satisfies Same<z.output<typeof siteCondition>, SiteCondition>;
