import * as z from "zod";
import { clock } from "./clock-shape.ts";
import { direction, ms, row } from "./row-shape.ts";

/** The line by time and distance, as a schema. */

const point = z.object({
  pass: z.string(),
  corridor: z.string(),
  journey: z.string(),
  train: z.nullable(z.string()),
  site: z.string(),
  track: z.string(),
  timeMs: ms,
  direction,
  axles: z.int(),
  joined: z.boolean(),
});

export const line = z.object({
  clock,
  place: z.string(),
  fromMs: ms,
  toMs: ms,
  corridors: z.array(
    z.object({
      id: z.string(),
      name: z.string(),
      bands: z.array(
        z.object({
          title: z.string(),
          branchOf: z.nullable(z.string()),
          miles: z.number(),
          sites: z.array(z.object({ site: z.string(), name: z.string(), milepost: z.number(), miles: z.number(), own: z.boolean() })),
        }),
      ),
    }),
  ),
  points: z.array(point),
  expected: z
    .array(
      z.object({
        corridor: z.string(),
        journey: z.string(),
        train: z.nullable(z.string()),
        site: z.string(),
        timeMs: ms,
        over: z.array(z.string()).meta({ description: "Sites before it on the same way." }),
      }),
    )
    .meta({ description: "Where trains on their way would be heard next, at the speed they were read at." }),
  conditions: z.array(
    z.object({
      site: z.string(),
      kind: z.string(),
      device: z.string(),
      words: z.string(),
      raisedMs: ms,
      clearedMs: z.nullable(ms),
    }),
  ),
  rows: z.array(row),
  warned: z
    .array(z.object({ id: z.string(), journeys: z.array(z.string()) }))
    .meta({ description: "Of each row the journeys of its train, in whatever corridor: each corridor joins passes by itself." }),
});
export type Line = z.infer<typeof line>;
