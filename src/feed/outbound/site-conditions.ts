import * as z from "zod";
import { CONDITION_KINDS, type SiteCondition } from "../../site/condition.ts";
import { id, madeId, person, type Same, time } from "../fields.ts";

/** Schema of the outbound topic `site-conditions`: raised, updated and cleared as versions of one id. */
export const siteCondition = z
  .object({
    id: madeId,
    version: z.int().gte(1),
    time,
    site: id,
    device: z.string().meta({ description: "A track (1), a scanner (1/left) or empty: the site." }),
    kind: z.enum(CONDITION_KINDS),
    state: z.enum(["raised", "cleared"]),
    raisedAt: time,
    evidence: z.array(z.string()),
    words: z.string(),
    advice: z.string(),
    alarm: z
      .enum(["unacknowledged", "acknowledged", "shelved", "out-of-service", "returned-unacknowledged", "normal"])
      .optional()
      .meta({ description: "Alarm state in the words of IEC 62682." }),
    priority: z.enum(["high", "medium", "low", "information"]).optional().meta({ description: "information: nobody must answer." }),
    sites: z.array(id).optional().meta({ description: "All the sites of a condition that is about more than one." }),
    by: person.optional().meta({ description: "Who last acted on it." }),
    reason: z.string().optional().meta({ description: "Why it is shelved or out of service." }),
    until: time.optional().meta({ description: "End of the shelf, or the day of return to service." }),
  })
  .meta({ title: "SiteCondition", description: "Something about a site or one of its devices that needs attention." });

true satisfies Same<z.output<typeof siteCondition>, SiteCondition>;
