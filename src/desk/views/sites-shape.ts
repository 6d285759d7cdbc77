import * as z from "zod";
import { clock } from "./clock-shape.ts";
import { condition } from "./condition-shape.ts";
import { ms } from "./row-shape.ts";
import { testRun } from "./test-shape.ts";

/** All sites, as a schema. */

export const sites = z.object({
  clock,
  sites: z.array(
    z.object({
      site: z.string(),
      name: z.string(),
      line: z.string(),
      milepost: z.number(),
      tracks: z.array(z.string()),
      standing: z.enum(["well", "attention", "dead", "silent", "unheard"]),
      lastHeardMs: z.nullable(ms),
      lastPassMs: z.nullable(ms),
      ambient: z.nullable(z.number()),
      supplyVolts: z.nullable(z.number()),
      references: z.array(z.object({ device: z.string(), reference: z.nullable(z.number()) })),
      conditions: z.array(condition),
      past: z.array(condition),
      faults: z.array(z.object({ device: z.string(), fault: z.string(), sinceMs: ms })),
      biases: z.array(
        z.object({
          scanner: z.string(),
          biasF: z.number(),
          sdF: z.number(),
          trains: z.int(),
          trend: z.array(z.tuple([z.number(), z.number()])),
        }),
      ),
      lastTestMs: z.nullable(ms),
      testDue: z.nullable(z.string()),
    }),
  ),
  tests: z.array(testRun),
});
export type SitesView = z.infer<typeof sites>;
