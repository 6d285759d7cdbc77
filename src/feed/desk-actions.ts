import * as z from "zod";
import { id, madeId, person, type Same, text, time } from "./fields.ts";
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
    action: z.enum(["acknowledge", "assign", "note", "found", "shelve", "unshelve", "return-to-service"]),
    warning: madeId.optional(),
    site: id.optional(),
    to: person.optional(),
    text: text.optional(),
    found: z.enum(["defect-confirmed", "nothing-found", "wheel-or-brake", "not-inspected"]).optional(),
    until: time.optional(),
  })
  .refine((action) => action.warning !== undefined || action.site !== undefined, NO_SUBJECT)
  .meta({ title: "DeskAction", description: "What a person at the desk did about a warning or a site." });

export const deskActions = { "desk-action": deskAction } as const;

true satisfies Same<z.output<typeof deskAction>, DeskAction>;
