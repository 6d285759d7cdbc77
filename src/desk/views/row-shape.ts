import * as z from "zod";
import type { Same } from "../../feed/fields.ts";
import type { Row } from "../board/row.ts";

/** One warning as the lists show it, as a schema. Temperatures °F, times ms since 1970. */

export const ms = z.number();
export const level = z.enum(["watch", "warn", "limit"]);
export const state = z.enum(["unacknowledged", "acknowledged", "shelved", "out-of-service", "cleared", "withdrawn"]);
export const direction = z.enum(["rising", "falling"]);
const done = z.enum(["told-crew", "train-stopped", "set-out"]);

export const row = z
  .object({
    id: z.string(),
    version: z.int(),
    actions: z.int(),
    level,
    state,
    pending: z.boolean(),
    correction: z.boolean(),
    train: z.nullable(z.string()),
    journey: z.string(),
    corridor: z.string(),
    site: z.string(),
    track: z.string(),
    vehicle: z.nullable(z.string()),
    vehicleId: z.nullable(z.string()),
    about: z.boolean(),
    place: z.string(),
    axle: z.int(),
    side: z.enum(["left", "right"]),
    heat: z.enum(["bearing", "brakes", "scanner", "sun", "none"]),
    riseF: z.nullable(z.number()),
    slopeFPerMile: z.nullable(z.number()),
    limitF: z.number(),
    axleDifference: z.nullable(z.object({ overF: z.number(), limitF: z.number() })),
    critical: z.boolean().meta({ description: "The critical limit was reached, now or before." }),
    timeMs: ms,
    readMs: z.nullable(ms),
    mph: z.nullable(z.number()),
    crossing: z.nullable(
      z.object({
        low: z.number(),
        miles: z.number(),
        high: z.number(),
        milepost: z.nullable(z.number()),
        line: z.nullable(z.string()),
        chance: z.number(),
      }),
    ),
    chanceNextSite: z.nullable(z.number()).meta({
      description: "Chance of reaching the limit before the next site; null: not reckoned, or the limit is reached already.",
    }),
    setOut: z.nullable(z.object({ name: z.string(), miles: z.number(), milepost: z.number(), carLengths: z.number() })),
    lastSeenMiles: z.number(),
    owner: z.nullable(z.string()),
    done: z.nullable(z.object({ what: done, by: z.string(), timeMs: ms })),
    shelvedUntilMs: z.nullable(ms),
    raisedMs: ms,
    escalatedMs: ms,
    advice: z.string(),
    caution: z.string(),
    same: z.array(z.string()).meta({ description: "Warnings of other corridors of the same bearing, by the readings behind them." }),
    leads: z.boolean().meta({ description: "Of warnings of the same bearing this is the one heard last." }),
  })
  .meta({ title: "Row", description: "One warning as the lists show it." });

true satisfies Same<z.output<typeof row>, Row>;
