import * as z from "zod";
import { siteRulesSchema } from "../site/site-rules.ts";
import { type Situation, templateMistake } from "./advice.ts";

/**
 * The rules of one railroad from one day on: every number it may set, and every text that people are told. The comments of
 * `replay-data/rules` say what each number does. The schema is the truth; bounds keep out slips of the pen, not opinions.
 */

/** °F above ambient: over any bearing that is not already burning, under what no infrared scanner reads. Assumption. */
const temperatureF = z.number().min(20).max(1000);
const chance = z.number().min(0.001).max(1);
/** Longest distance that a rule can speak of; far over the 40 miles between neighbouring sites (TRADE 2, [S]). */
const miles = z.number().min(0).max(500);
const text = z.string().min(1).max(600);

/** Kind of site whose limits hold where the file names no row for a kind. */
const DEFAULT_KIND = "default";

export const MAX_SITE_KINDS = 50;
const MAX_GAP_STEPS = 20;

const limits = z
  .strictObject({
    bearingF: temperatureF,
    criticalF: temperatureF,
    axleDifferenceF: temperatureF,
    wheelF: temperatureF,
  })
  .superRefine(({ bearingF, criticalF }, context) => {
    if (criticalF >= bearingF) return;
    const says = `is ${criticalF} °F, under the ${bearingF} °F of bearingF`;
    contradict(context, "limits-crossed", ["criticalF"], says, "criticalF at or over bearingF", "Exchange the two, or raise criticalF.");
  });

const limitsByKind = z.record(z.string(), z.strictObject({ ordinary: limits, key: limits.optional() })).superRefine((rows, context) => {
  const kinds = Object.keys(rows).length;
  if (!Object.hasOwn(rows, DEFAULT_KIND)) {
    contradict(
      context,
      "no-default-limits",
      [],
      "has no row `default`",
      "a row `default`",
      "Add the limits of sites whose kind has no row.",
    );
  }
  if (kinds > MAX_SITE_KINDS) {
    const says = `has ${kinds} kinds of site`;
    contradict(context, "too-many-kinds", [], says, `at most ${MAX_SITE_KINDS}`, "Give sites with the same limits the same kind.");
  }
});

const chances = z.strictObject({ beforeNextSite: chance, beforeNextButOne: chance, rising: chance });

/** What raises a level must leave room over what lowers it. */
function hysteresis(level: { raise: Chances; lower: Chances }, context: z.core.$RefinementCtx): void {
  for (const name of ["beforeNextSite", "beforeNextButOne", "rising"] as const) {
    if (level.lower[name] < level.raise[name]) continue;
    const says = `is ${level.lower[name]}, not under the ${level.raise[name]} that raises`;
    contradict(
      context,
      "no-hysteresis",
      ["lower", name],
      says,
      "less than the number that raises",
      "Leave room between the two, or the level flaps.",
    );
  }
}

/**
 * What raises a `warn`: also a distance of the railroad's own, as far ahead as it wants to be told. `soon`: share of the chance
 * before the next site but one, weighed by the gap ahead, that counts on top; absent: none.
 */
const within = z.strictObject({ miles: miles.min(1), chance, soon: z.number().min(0).max(1).optional() });
const farther = chances.extend({ within: within.optional() });

const watch = z.strictObject({ raise: chances, lower: chances, lapseReadings: z.int().min(1).max(20) }).superRefine(hysteresis);
const warn = z.strictObject({ raise: farther, lower: chances, minimumReadings: z.int().min(1).max(20) }).superRefine(hysteresis);

const gap = z
  .array(z.strictObject({ miles, weight: z.number().min(0.25).max(4) }))
  .min(1)
  .max(MAX_GAP_STEPS)
  .superRefine((steps, context) => {
    steps.forEach((step, index) => {
      const before = steps[index - 1];
      if (before === undefined || step.miles > before.miles) return;
      const says = `is ${step.miles} miles, not over the ${before.miles} before it`;
      contradict(context, "gap-order", [index, "miles"], says, "rising miles", "Sort the steps by miles.");
    });
  });

/** What is well-formed by itself but cannot be meant. Said where it is, so that one mistake hides no other. */
function contradict(
  context: z.core.$RefinementCtx,
  code: string,
  path: PropertyKey[],
  message: string,
  expected: string,
  advice: string,
): void {
  context.addIssue({ code: "custom", message, path, params: { code, expected, advice } });
}

function template(situation: Situation) {
  return text.superRefine((value, context) => {
    const mistake = templateMistake(value, situation);
    if (mistake === null) return;
    const { code, says, expected, advice } = mistake;
    context.addIssue({ code: "custom", message: says, path: [], params: { code, expected, advice } });
  });
}

export const rulesSchema = z.strictObject({
  id: z.string().regex(/^[A-Za-z0-9._-]{1,64}$/, { error: "1 to 64 characters of A-Z a-z 0-9 . _ -" }),
  name: text,
  from: z.iso.datetime({ error: "a UTC time like 2026-03-04T05:06:07Z" }),
  limits: limitsByKind,
  levels: z.strictObject({ watch, warn }),
  hazard: z.strictObject({
    gap,
    withoutSetOut: z.number().min(0.25).max(4),
    assumedGapMiles: miles.min(1),
  }),
  train: z.strictObject({ stoppingMiles: miles, assumedSpeedMph: z.number().min(1).max(150) }),
  newVersion: z.strictObject({ chance, crossingMiles: miles, riseF: z.number().min(0).max(1000) }),
  desk: z.strictObject({ shelveMaxHours: z.number().min(0).max(168), riseAgainF: z.number().min(0).max(1000) }),
  advice: z.strictObject({
    watch: z.strictObject({
      bearing: template("watch"),
      brakes: template("watch"),
      scanner: template("watch"),
      sun: template("watch"),
    }),
    warn: z.strictObject({ setOut: template("set-out"), stop: template("stop") }),
    limit: z.strictObject({
      bearing: template("stop"),
      critical: template("stop"),
      axleDifference: template("stop"),
      brakes: template("stop"),
      scanner: template("stop"),
      sun: template("stop"),
    }),
    held: z.strictObject({
      warn: z.strictObject({ setOut: template("held-set-out"), stop: template("held-stop") }),
      limit: template("held-stop"),
    }),
    gone: template("gone"),
    keyTrain: template("stop"),
    ended: z.strictObject({ cleared: template("ended"), outOfService: template("ended") }),
  }),
  /** What is set about the sites; without it the usual numbers hold (`site/site-rules.ts`). */
  sites: siteRulesSchema.optional(),
  caution: text,
});

export type Rules = z.output<typeof rulesSchema>;
export type Limits = z.output<typeof limits>;
export type Chances = z.output<typeof chances>;
export type FartherChances = z.output<typeof farther>;

/**
 * Limits in force for a kind of site and a train. A kind without a row of its own takes `default`; a key train without
 * a row of its own takes the one of ordinary trains.
 */
export function limitsOf(rules: Rules, siteKind: string, keyTrain: boolean): Limits {
  const row = Object.hasOwn(rules.limits, siteKind) ? rules.limits[siteKind]! : rules.limits[DEFAULT_KIND]!;
  return keyTrain && row.key !== undefined ? row.key : row.ordinary;
}
