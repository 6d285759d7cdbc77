import * as z from "zod";
import { deskAction } from "../../feed/desk-actions.ts";
import { evidence, warning } from "../../feed/outbound/warnings.ts";
import { level, ms, row, state } from "./row-shape.ts";

/** What the pages get, as schemas: the OpenAPI document and the types of the page come from here. Temperatures °F, times ms since 1970. */

const direction = z.enum(["rising", "falling"]);

const clock = z.object({
  nowMs: ms.meta({ description: "The desk's time." }),
  speed: z.number().meta({ description: "Desk seconds a second; not 1 only in a demonstration." }),
  dataMs: z.nullable(ms).meta({ description: "Latest event time heard of any site." }),
  lacks: z
    .array(
      z.object({
        what: z.enum(["passes", "site-reports", "consists", "calibrations"]),
        fromMs: z.nullable(ms).meta({ description: "From when on it is there; null: not at all." }),
      }),
    )
    .meta({ description: "Looking back: what the log no longer holds of what this page would show." }),
});

export const now = z.object({
  clock,
  place: z.string().meta({ description: "Where the stream of changes stood: live updates go on from here." }),
  total: z.int(),
  from: z.int(),
  rows: z.array(row),
  needs: z.object({ decide: z.int(), "in-hand": z.int(), watch: z.int(), aside: z.int(), closed: z.int() }),
  sites: z.array(z.object({ site: z.string(), name: z.string(), kind: z.string(), words: z.string(), raisedMs: ms })),
  unknownActions: z.int().meta({ description: "Warnings let go by the desk's bound." }),
});
export type Now = z.infer<typeof now>;

const setOutAhead = z.object({
  name: z.string(),
  milepost: z.number(),
  miles: z.number(),
  carLengths: z.number(),
  chosen: z.boolean(),
  inTime: z.boolean().meta({ description: "The train can stop there before the limit could be reached; never so at the limit." }),
  onEveryWay: z.boolean().meta({ description: "Whichever way the train takes, it comes by." }),
  passed: z.boolean().meta({ description: "The train was heard since at a site behind it on its way." }),
  arrivesMs: z.nullable(ms),
});
const siteAhead = z.object({ site: z.string(), name: z.string(), miles: z.number(), arrivesMs: z.nullable(ms), heard: z.boolean() });

/** Readings of a bearing on one leg, for the strip of vehicles. */
export const stripLeg = z.object({
  pass: z.string(),
  site: z.string(),
  name: z.string(),
  timeMs: ms,
  flipped: z.boolean(),
  directionDoubted: z.boolean(),
  medianF: z.tuple([z.nullable(z.number()), z.nullable(z.number())]),
  vehicles: z.array(
    z.object({
      kind: z.enum(["car", "locomotive"]),
      ordinalOfKind: z.int(),
      id: z.nullable(z.string()),
      firstRow: z.int(),
      axles: z.int(),
      confidence: z.number(),
    }),
  ),
  axles: z.int(),
  left: z.array(z.nullable(z.number())).meta({ description: "Rise by axle, left side in the direction of travel." }),
  right: z.array(z.nullable(z.number())),
  marked: z.array(z.object({ axle: z.int(), side: z.enum(["left", "right"]), warning: z.string(), level, heat: row.shape.heat })),
});
export type StripLeg = z.infer<typeof stripLeg>;

/** A site that says nothing of trains now: dead, cut off, silent, or out of service. `device`: "" the whole site, else its track. */
const notSeeing = z.object({ site: z.string(), kind: z.string(), device: z.string(), raisedMs: ms });
export type NotSeeing = z.infer<typeof notSeeing>;

const versionNote = z.object({
  version: z.int(),
  timeMs: ms,
  arrivedMs: ms,
  level,
  state,
  riseF: z.nullable(z.number()),
  site: z.string(),
  correction: z.boolean(),
});

export const oneWarning = z.object({
  clock,
  row,
  warning,
  evidence: z.array(evidence.extend({ name: z.string(), why: z.string() })),
  versions: z.array(versionNote),
  actions: z.array(z.object({ action: deskAction, arrivedMs: ms })),
  passedMiles: z.number().meta({ description: "Miles of the journey at the pass that led to the last version." }),
  setOuts: z.array(setOutAhead),
  sitesAhead: z.array(siteAhead),
  mph: z.nullable(z.number()).meta({ description: "Speed that arrivals are reckoned with; null: not measured." }),
  notSeeing: z.array(notSeeing).meta({ description: "Of the sites it was read at and those ahead." }),
  strip: z.array(stripLeg),
  shelveMaxHours: z.number(),
});
export type OneWarning = z.infer<typeof oneWarning>;

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
    .array(z.object({ corridor: z.string(), journey: z.string(), train: z.nullable(z.string()), site: z.string(), timeMs: ms }))
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
});
export type Line = z.infer<typeof line>;

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
  expected: z.array(z.object({ site: z.string(), name: z.string(), timeMs: ms })),
  strip: z.array(stripLeg),
});
export type Train = z.infer<typeof train>;

const condition = z.object({
  id: z.string(),
  version: z.int(),
  site: z.string(),
  device: z.string(),
  kind: z.string(),
  state: z.enum(["raised", "cleared"]),
  raisedMs: ms,
  changedMs: ms,
  words: z.string(),
  advice: z.string(),
  evidence: z.array(z.string()),
  alarm: z.nullable(z.string()).meta({ description: "Alarm state in the words of IEC 62682." }),
  by: z.nullable(z.string()),
  reason: z.nullable(z.string()),
  untilMs: z.nullable(ms),
});
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

export const acted = z.object({ repeated: z.boolean(), row: z.nullable(row) });
export type Acted = z.infer<typeof acted>;

export const problem = z
  .object({
    code: z.string(),
    message: z.string(),
    /** With DESK-020: what stands now, and what others did since. */
    row: row.optional(),
    since: z.array(z.string()).optional(),
  })
  .meta({ title: "Problem", description: "Why a request was refused, and what to do." });
export type Problem = z.infer<typeof problem>;

export const whatIf = z.object({
  rules: z.array(z.string()),
  against: z.array(z.string()),
  fromMs: ms,
  toMs: ms,
  passes: z.int(),
  bearings: z.array(
    z.object({
      train: z.nullable(z.string()),
      place: z.string(),
      site: z.string(),
      asIs: z.nullable(z.object({ level, timeMs: ms })),
      whatIf: z.nullable(z.object({ level, timeMs: ms })),
      words: z.string(),
    }),
  ),
  counts: z.object({ same: z.int(), earlier: z.int(), later: z.int(), only: z.int(), lost: z.int() }),
});
export type WhatIf = z.infer<typeof whatIf>;
