import * as z from "zod";
import { level, ms } from "./row-shape.ts";

/** What other rules would have said, as a schema. */

export const whatIf = z.object({
  rules: z.array(z.string()),
  against: z.array(z.string()),
  fromMs: ms,
  toMs: ms,
  passes: z.int(),
  bearings: z.array(
    z.object({
      train: z.nullable(z.string()),
      place: z.string(),
      site: z.string(),
      asIs: z.nullable(z.object({ level, timeMs: ms })),
      whatIf: z.nullable(z.object({ level, timeMs: ms })),
      words: z.string(),
    }),
  ),
  counts: z.object({ same: z.int(), earlier: z.int(), later: z.int(), only: z.int(), lost: z.int() }),
});
export type WhatIf = z.infer<typeof whatIf>;
