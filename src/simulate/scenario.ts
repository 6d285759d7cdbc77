import { z } from "zod";
import type { Mistake } from "../line/mistake.ts";
import { readTextFile } from "../line/text-file.ts";
import { readYaml } from "../line/yaml-source.ts";
import { FORMS } from "./curve.ts";
import { FAULT_KINDS } from "./wayside.ts";

/** A day as it is wanted: what a scenario leaves out is drawn from its world and seed. Hours count from the start. */

/** All trains of a simulation are drawn before the first runs: what is asked for has to fit into memory. */
export const MOST_HOURS = 24 * 400;
export const MOST_TRAINS_PER_DAY = 2_000;
const hour = z.number().min(0).max(MOST_HOURS);
const name = z.string().regex(/^[A-Za-z0-9._-]{1,40}$/);

const bearing = z.strictObject({
  /** Car from the head as the train sets out, from 1, locomotives not counted. */
  car: z.int().min(1).max(500),
  axle: z.int().min(1).max(12),
  side: z.enum(["left", "right"]),
  kind: z.enum(["developing", "plateau", "roll-over", "warm"]),
  class: z.enum(["slow", "medium", "fast", "burst"]).optional(),
  form: z.enum(FORMS).optional(),
  /** Mile of the journey at which the limit is reached (developing) or at which it begins (others). */
  atMile: z.number().min(-500).max(5000).optional(),
  /** Miles from onset to the limit. */
  miles: z.number().min(1).max(600).optional(),
  riseF: z.number().min(5).max(140).optional(),
});

const brakes = z.strictObject({
  car: z.int().min(1).max(500),
  /** Axles of the car, from 1; left out: all. */
  axles: z.array(z.int().min(1).max(12)).optional(),
  fromMile: z.number().min(-500).max(5000),
  toMile: z.number().min(-500).max(5000),
  wheelRiseF: z.number().min(50).max(1500),
  bearingRiseF: z.number().min(0).max(140),
});

const train = z.strictObject({
  name,
  /** What the sites know it by; left out: it goes without an id. */
  id: name.optional(),
  kind: z.enum(["mixed", "unit", "intermodal"]),
  cars: z.int().min(1).max(240).optional(),
  /** Made of the same kinds of vehicle as this earlier train of the scenario. */
  lookAlikeOf: name.optional(),
  from: z.string(),
  to: z.string(),
  departs: hour,
  /** Comes back from `to`, as far as where it set out. */
  returns: z.enum(["wye", "reversed", "run-around"]).optional(),
  /** Cars left or taken at the first usable place on the link to a site. */
  work: z
    .array(z.strictObject({ before: z.string(), setOut: z.int().min(0).max(60).default(0), pickUp: z.int().min(0).max(60).default(0) }))
    .optional(),
  /** Sends its consist before it departs. */
  consist: z.boolean().default(false),
  /** A key train in the sense of the railroad's rules, with placarded cars. */
  key: z.boolean().default(false),
  bearings: z.array(bearing).optional(),
  brakes: z.array(brakes).optional(),
});

const fault = z.strictObject({
  site: z.string(),
  kind: z.enum(FAULT_KINDS),
  /** `1` a track, `1/left` a scanner; left out: the whole site. */
  device: z.string().default(""),
  from: hour,
  to: hour,
  value: z.number().default(0),
});

const schema = z.strictObject({
  seed: z
    .int()
    .min(0)
    .max(2 ** 31 - 1),
  start: z.iso.datetime(),
  hours: hour,
  world: z.enum(["ordinary", "sparse", "sick", "winter", "mixed"]).default("ordinary"),
  /** Numbers of the world that are other than usual, by their name in worlds.ts. */
  changes: z.record(z.string(), z.number()).default({}),
  /** Trains of the background, a day. */
  trainsPerDay: z.number().min(0).max(MOST_TRAINS_PER_DAY),
  trains: z.array(train).default([]),
  faults: z.array(fault).default([]),
  tests: z.array(z.strictObject({ site: z.string(), track: z.coerce.string(), at: hour })).default([]),
  malformed: z.int().min(0).max(10_000).default(0),
});

export type Scenario = z.infer<typeof schema>;
export type WantedTrain = Scenario["trains"][number];

export function readScenario(text: string, file: string): { scenario: Scenario | null; mistakes: Mistake[] } {
  const { value, mistakes } = readYaml(text, file, schema);
  return { scenario: mistakes.length > 0 ? null : value, mistakes };
}

export function loadScenario(path: string): { scenario: Scenario | null; mistakes: Mistake[] } {
  const { text, mistakes } = readTextFile(path);
  return text === null ? { scenario: null, mistakes } : readScenario(text, path);
}
