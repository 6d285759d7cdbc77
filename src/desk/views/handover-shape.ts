import * as z from "zod";
import { clock } from "./clock-shape.ts";
import { condition } from "./condition-shape.ts";
import { ms, row } from "./row-shape.ts";
import { testRun } from "./test-shape.ts";

/** What the next shift must know, as a schema. */

const event = z.object({
  timeMs: ms,
  what: z.string(),
  about: z.string(),
  warning: z.nullable(z.string()),
  by: z.nullable(z.string()),
  words: z.string(),
});

const measures = z.object({
  fromMs: ms,
  toMs: ms,
  operators: z.int(),
  alarms: z.int(),
  perWindowAndOperator: z.number(),
  perDayAndOperator: z.number(),
  mostInWindow: z.int(),
  floods: z.array(z.object({ fromMs: ms, toMs: ms, alarms: z.int() })),
  byLevel: z.object({ watch: z.int(), warn: z.int(), limit: z.int() }),
  stale: z.int(),
  shelved: z.int(),
  unacknowledged: z.int(),
  minutesToAcknowledge: z.nullable(z.number()),
  judgement: z.enum(["acceptable", "manageable", "more than manageable", "not manageable"]),
});

const operator = z.object({
  name: z.nullable(z.string()).meta({ description: "Who answered the alarms first, and has the open warnings; null: nobody." }),
  alarms: z.int(),
  perWindow: z.number().meta({ description: "Alarms in ten minutes, on average over the window." }),
  perDay: z.number(),
  mostInWindow: z.int(),
  floods: z.int(),
  holds: z.int(),
  stale: z.int(),
  shelved: z.int(),
  minutesToAnswer: z.nullable(z.number()),
  judgement: measures.shape.judgement,
});

export const handover = z.object({
  clock,
  measures,
  operators: z.array(operator).meta({ description: "The load of each person, the most loaded first." }),
  open: z.array(row),
  moreOpen: z.int().meta({ description: "Open warnings not listed, all less pressing." }),
  events: z.array(event),
  more: z.int().meta({ description: "Events not listed." }),
  conditions: z.array(condition.extend({ name: z.string() })),
  tests: z.array(testRun),
});
export type Handover = z.infer<typeof handover>;
