import * as z from "zod";
import { clock } from "./clock-shape.ts";
import { ms } from "./row-shape.ts";

/** Who is signed in to which railroad, as a schema. */

export const session = z.object({
  person: z.nullable(z.object({ name: z.string(), role: z.enum(["view", "act", "maintain", "administer"]) })),
  csrf: z.nullable(z.string()),
  signIn: z.array(z.enum(["password", "name", "openid"])),
  railroad: z.object({ id: z.string(), name: z.string(), timeZone: z.string(), demonstration: z.boolean() }),
  demonstration: z.nullable(z.string()).meta({ description: "What is to be said of the demonstration, wherever its data stand." }),
  clock,
  historyFromMs: z.nullable(ms),
  people: z.array(z.string()),
  ruleSets: z.array(z.string()),
  sites: z.array(z.object({ site: z.string(), name: z.string(), milepost: z.number(), line: z.string() })),
});
export type Session = z.infer<typeof session>;
