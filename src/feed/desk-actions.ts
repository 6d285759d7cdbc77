import * as z from "zod";
import { device, id, madeId, person, type Same, text, time } from "./fields.ts";
import type { DeskAction } from "./record.ts";

/** Schema of the topic `desk-actions`, key `<warning id>` or `<site>`: what people at the desk did, with who and when. */

/** Message of the one check here that goes over fields. */
export const NO_SUBJECT = "a warning or a site";

export const deskAction = z
  .object({
    type: z.literal("desk-action"),
    id: madeId,
    time,
    by: person,
    action: z.enum(["acknowledge", "assign", "note", "found", "shelve", "unshelve", "out-of-service", "return-to-service"]),
    warning: madeId.optional(),
    site: id.optional(),
    condition: madeId.optional().meta({ description: "Of a site: one condition by its id." }),
    device: device.optional().meta({ description: "Of a site: one track (1) or one device (1/left)." }),
    to: person.optional(),
    text: text.optional(),
    found: z.enum(["defect-confirmed", "nothing-found", "wheel-or-brake", "not-inspected"]).optional(),
    until: time.optional(),
    done: z.enum(["told-crew", "train-stopped", "set-out"]).optional().meta({ description: "What a note says was done." }),
    heatStick: z.enum(["melted", "not-melted", "not-used"]).optional().meta({ description: "Of the bearing cup, with what was found." }),
    seen: z
      .object({ version: z.int().gte(0), actions: z.int().gte(0) })
      .optional()
      .meta({ description: "What the person had in front of them." }),
  })
  .refine((action) => action.warning !== undefined || action.site !== undefined, NO_SUBJECT)
  .meta({ title: "DeskAction", description: "What a person at the desk did about a warning or a site." });

export const deskActions = { "desk-action": deskAction } as const;

true satisfies Same<z.output<typeof deskAction>, DeskAction>;
