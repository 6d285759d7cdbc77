import * as z from "zod";
import type { FunctionalTestRecord } from "../../site/functional-test.ts";
import { id, madeId, person, type Same, time } from "../fields.ts";

/** Schema of the outbound topic `functional-tests`: the record of a test that was closed. */

const verdict = z.enum(["answered", "missing", "wrong-side", "too-low", "not-announced"]);

const answer = z
  .object({
    time,
    riseF: z.number().nullable().meta({ description: "°F above ambient, null where the device has no reading." }),
    announced: z.boolean().nullable(),
    verdict,
  })
  .nullable();

const proof = z.object({
  device: z.string(),
  verdict,
  asFound: answer.meta({ description: "Its first answer." }),
  asLeft: answer.meta({ description: "Its last answer." }),
  answers: z.int().gte(0),
  words: z.string(),
});

const check = z.object({
  check: z.enum(["axle-count", "direction", "ambient", "announcement"]),
  verdict: z.enum(["right", "wrong", "not-checked"]),
  words: z.string(),
});

export const functionalTestRecord = z
  .object({
    type: z.literal("functional-test-record"),
    id: madeId,
    version: z.literal(1),
    time,
    site: id,
    track: id,
    tester: person,
    begunAt: time,
    endedAt: time.nullable(),
    closed: z.enum(["ended", "left-open", "begun-again"]),
    result: z.enum(["passed", "failed"]),
    devices: z.array(proof),
    checks: z.array(check),
    trains: z.array(z.string()).meta({ description: "Passes of real trains that went through meanwhile." }),
    conditionsAsFound: z.array(z.string()),
    conditionsAsLeft: z.array(z.string()),
    words: z.string(),
    rules: z.string(),
    caution: z.string(),
  })
  .meta({ title: "FunctionalTestRecord", description: "How every device of a site answered in a functional test, as found and as left." });

true satisfies Same<z.output<typeof functionalTestRecord>, FunctionalTestRecord>;
