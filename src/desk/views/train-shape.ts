import * as z from "zod";
import { clock } from "./clock-shape.ts";
import { notSeeing } from "./condition-shape.ts";
import { direction, ms, row } from "./row-shape.ts";
import { stripLeg } from "./strip-shape.ts";

/** One train, as a schema. Temperatures °F, distances miles. */

export const train = z.object({
  clock,
  journey: z.string(),
  train: z.nullable(z.string()),
  corridor: z.string(),
  key: z.boolean(),
  axles: z.int(),
  legs: z.array(
    z.object({
      pass: z.string(),
      site: z.string(),
      name: z.string(),
      milepost: z.number(),
      track: z.string(),
      timeMs: ms,
      miles: z.number(),
      direction,
      directionDoubted: z.boolean(),
      axles: z.int(),
      mph: z.nullable(z.number()),
      flags: z.array(z.string()),
      over: z.array(z.string()).meta({ description: "Sites that should have heard it on the way here and did not." }),
      join: z.nullable(
        z.object({
          matched: z.int(),
          dropped: z.int(),
          added: z.int(),
          flipped: z.boolean(),
          score: z.number(),
          margin: z.number(),
          sure: z.string(),
          doubts: z.array(z.string()),
        }),
      ),
      doubt: z.nullable(z.string()),
    }),
  ),
  ranked: z.array(
    z.object({
      axle: z.int(),
      side: z.enum(["left", "right"]),
      place: z.string(),
      riseF: z.nullable(z.number()),
      excessF: z.nullable(z.number()),
      slopeFPerMile: z.nullable(z.number()),
      readings: z.array(z.nullable(z.number())),
      warning: z.nullable(z.string()),
    }),
  ),
  rows: z.array(row),
  notSeeing: z.array(notSeeing).meta({ description: "Of the sites it passed, those that missed it, and the next ones." }),
  expected: z.array(
    z.object({
      site: z.string(),
      name: z.string(),
      timeMs: ms,
      over: z.array(z.string()).meta({ description: "Sites before it on the same way." }),
    }),
  ),
  strip: z.array(stripLeg),
});
export type Train = z.infer<typeof train>;
