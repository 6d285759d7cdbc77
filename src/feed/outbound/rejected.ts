import * as z from "zod";
import type { Same } from "../fields.ts";
import { RAW_BYTES } from "../limits.ts";
import type { Rejected } from "../record.ts";

/** Schema of the outbound topic `rejected`: every record that could not be used, with its reason. */
export const rejected = z
  .object({
    id: z.string(),
    version: z.literal(1),
    topic: z.string(),
    partition: z.int().gte(0),
    offset: z.int().gte(0),
    reason: z.string().meta({ description: "Stable code and name, e.g. FEED-010 out-of-bounds." }),
    path: z.string().meta({ description: "Inside the record, e.g. left.bearing[3]; empty for the record as a whole." }),
    expected: z.string(),
    advice: z.string(),
    raw: z.string().meta({ description: `The record as it came, at most its first ${RAW_BYTES} bytes.` }),
    rawEncoding: z.enum(["utf-8", "base64"]).optional(),
    rawBytes: z.int().gte(0).optional(),
  })
  .meta({ title: "Rejected", description: "An inbound record that was not used." });

true satisfies Same<z.output<typeof rejected>, Rejected>;
