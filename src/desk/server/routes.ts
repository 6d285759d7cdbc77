import * as z from "zod";
import { madeId } from "../../feed/fields.ts";
import { actRequest } from "../act.ts";
import { PASSWORD_BYTES } from "../people/password.ts";
import type { Role } from "../people/role.ts";
import { acted } from "../views/act-shape.ts";
import { handover } from "../views/handover-shape.ts";
import { line } from "../views/line-shape.ts";
import { now } from "../views/now-shape.ts";
import { session } from "../views/session-shape.ts";
import { sites } from "../views/sites-shape.ts";
import { train } from "../views/train-shape.ts";
import { oneWarning } from "../views/warning-shape.ts";
import { whatIf } from "../views/what-if-shape.ts";

/** One operation of the API: the server's routes and the OpenAPI document are both made from these. */
export interface Route {
  method: "GET" | "POST";
  url: string;
  summary: string;
  /** Who may: a role, or anyone, signed in or not. */
  who: Role | "anyone";
  query?: z.ZodType;
  body?: z.ZodType;
  /** Answer: a schema, or a kind of text. */
  reply: z.ZodType | { text: string; about: string };
  /** Where it needs more than `who` by what is asked: which role for what, in words. */
  needs?: string;
}

/** Times in a query: milliseconds since 1970. */
const ms = z.coerce.number("must be a time in milliseconds since 1970").int().gte(0).lte(4_102_444_800_000);
const at = ms.optional().meta({ description: "As it stood then; left out: now." });
const words = (most: number) => z.string().min(1).max(most);

export const nowQuery = z.object({
  from: z.coerce.number().int().gte(0).lte(1_000_000).default(0),
  count: z.coerce.number().int().gte(1).lte(1_000).default(200),
  closed: z.enum(["true", "false"]).default("false"),
  at,
});
export const warningQuery = z.object({ id: madeId, at });
export const lineQuery = z.object({ fromMs: ms, toMs: ms, at }).refine((query) => query.fromMs < query.toMs, "fromMs must be before toMs");
export const trainQuery = z.object({ journey: madeId, at });
export const atQuery = z.object({ at });
export const windowQuery = z
  .object({ fromMs: ms, toMs: ms, at })
  .refine((query) => query.fromMs < query.toMs, "fromMs must be before toMs");
export const signIn = z.strictObject({
  name: words(64),
  password: z.string().max(PASSWORD_BYTES).optional(),
  role: z
    .enum(["view", "act", "maintain", "administer"])
    .optional()
    .meta({ description: "Only where no users are set up, on this machine." }),
});
export const whatIfRequest = z
  .strictObject({ rules: words(64), fromMs: z.int().gte(0).lte(4_102_444_800_000), toMs: z.int().gte(0).lte(4_102_444_800_000) })
  .refine((query) => query.fromMs < query.toMs, "fromMs must be before toMs");

const nothing = z.strictObject({});

type Reply = Route["reply"];

/** Asks for something; whoever may look may ask, unless it says otherwise. */
function ask(url: string, summary: string, reply: Reply, { query, who = "view" }: Pick<Partial<Route>, "query" | "who"> = {}): Route {
  return { method: "GET", url, summary, who, ...(query === undefined ? {} : { query }), reply };
}

function send(url: string, summary: string, who: Route["who"], body: z.ZodType, reply: Reply): Route {
  return { method: "POST", url, summary, who, body, reply };
}

const text = (type: string, about: string): Reply => ({ text: type, about });

export const ROUTES = {
  session: ask("/api/session", "Who is signed in, how one can sign in, and what railroad this is.", session, { who: "anyone" }),
  signIn: send("/api/sign-in", "Signs in; the cookie is the session.", "anyone", signIn, session),
  openId: ask(
    "/api/openid",
    "Sends the browser to the provider of the accounts, where one is configured.",
    text("text/html", "A redirect."),
    { who: "anyone" },
  ),
  openIdReturn: ask("/api/openid/return", "Where the provider sends the browser back to.", text("text/html", "A redirect to the pages."), {
    who: "anyone",
  }),
  signOut: send("/api/sign-out", "Ends the session.", "anyone", nothing, nothing),
  now: ask("/api/now", "Warnings in the order of what is left to act on.", now, { query: nowQuery }),
  warning: ask("/api/warning", "One warning with its evidence and what was done.", oneWarning, { query: warningQuery }),
  act: {
    ...send("/api/act", "Takes down what a person did. Sent again with the same id it changes nothing.", "view", actRequest, acted),
    needs:
      "Needs the role act for what is done about a warning or a vehicle, and maintain, or for some of it act, for what is done about a site.",
  },
  line: ask("/api/line", "Time and distance: passes, expected arrivals, site conditions.", line, { query: lineQuery }),
  train: ask("/api/train", "One train: passes, joins, ranked bearings.", train, { query: trainQuery }),
  sites: ask("/api/sites", "Sites, their conditions, calibration and functional tests.", sites, { query: atQuery }),
  handover: ask("/api/handover", "What is open, what happened, and how loaded the desk was.", handover, { query: windowQuery }),
  handoverCsv: ask(
    "/api/handover.csv",
    "What is open, the shift's events and measures as CSV.",
    text("text/csv", "One open warning, event or measure a line."),
    {
      query: windowQuery,
    },
  ),
  audit: ask(
    "/api/audit",
    "Every desk action as it was recorded, one JSON object a line; where there are more than 100,000, a last line with cut: true says so.",
    text("application/x-ndjson", "Desk actions."),
    {
      query: windowQuery,
      who: "administer",
    },
  ),
  whatIf: send("/api/what-if", "The passes of a window under another rule set.", "view", whatIfRequest, whatIf),
  live: ask(
    "/api/live",
    "Server-sent events: what changed. Resumes after Last-Event-ID; `anew` when that is too long ago.",
    text("text/event-stream", "Events `changes`, `clock`, `anew`."),
  ),
  openApi: ask("/api/openapi.json", "This document.", text("application/json", "OpenAPI 3.1.")),
} as const satisfies Record<string, Route>;

export type Operation = keyof typeof ROUTES;
