import * as z from "zod";
import { ms } from "./row-shape.ts";

/** A functional test as far as it has come, as a schema. */

const answer = z.nullable(z.object({ timeMs: ms, riseF: z.nullable(z.number()), announced: z.nullable(z.boolean()), verdict: z.string() }));

export const testRun = z.object({
  id: z.string(),
  site: z.string(),
  name: z.string(),
  track: z.string(),
  tester: z.string(),
  begunMs: ms,
  endedMs: z.nullable(ms),
  expects: z.array(z.string()),
  devices: z.array(
    z.object({
      device: z.string(),
      verdict: z.enum(["answered", "missing", "wrong-side", "too-low", "not-announced"]),
      asFound: answer,
      asLeft: answer,
      answers: z.int(),
      words: z.string(),
    }),
  ),
  trains: z.int().meta({ description: "Real trains that went through meanwhile; they answer for nothing." }),
  result: z.nullable(z.enum(["passed", "failed"])).meta({ description: "Of the engine's record; null: not closed yet." }),
  closed: z.nullable(z.string()),
  checks: z.array(z.object({ check: z.string(), verdict: z.string(), words: z.string() })),
  conditionsAsFound: z.array(z.string()),
  conditionsAsLeft: z.array(z.string()),
  words: z.nullable(z.string()),
  caution: z.string(),
});
export type TestRunView = z.infer<typeof testRun>;
