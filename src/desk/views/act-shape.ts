import * as z from "zod";
import { row } from "./row-shape.ts";

/** What becomes of an action or a request, as schemas. */

export const acted = z.object({ repeated: z.boolean(), row: z.nullable(row) });
export type Acted = z.infer<typeof acted>;

export const problem = z
  .object({
    code: z.string(),
    message: z.string(),
    /** With DESK-020: what stands now, and what others did since. */
    row: row.optional(),
    since: z.array(z.string()).optional(),
  })
  .meta({ title: "Problem", description: "Why a request was refused, and what to do." });
export type Problem = z.infer<typeof problem>;
