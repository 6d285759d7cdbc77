import * as z from "zod";
import { madeId } from "../../feed/fields.ts";
import { actRequest } from "../act.ts";
import { PASSWORD_BYTES } from "../people/password.ts";
import type { Role } from "../people/role.ts";
import * as shapes from "../views/shapes.ts";

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
}

/** Times in a query: milliseconds since 1970. */
const ms = z.coerce.number().int().gte(0).lte(4_102_444_800_000);
const at = ms.optional().meta({ description: "As it stood then; left out: now." });
const text = (most: number) => z.string().min(1).max(most);

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
  name: text(64),
  password: z.string().max(PASSWORD_BYTES).optional(),
  role: z
    .enum(["view", "act", "maintain", "administer"])
    .optional()
    .meta({ description: "Only where no users are set up, on this machine." }),
});
export const whatIfRequest = z
  .strictObject({ rules: text(64), fromMs: z.int().gte(0).lte(4_102_444_800_000), toMs: z.int().gte(0).lte(4_102_444_800_000) })
  .refine((query) => query.fromMs < query.toMs, "fromMs must be before toMs");

const nothing = z.strictObject({});

export const ROUTES = {
  session: {
    method: "GET",
    url: "/api/session",
    summary: "Who is signed in, how one can sign in, and what railroad this is.",
    who: "anyone",
    reply: shapes.session,
  },
  signIn: {
    method: "POST",
    url: "/api/sign-in",
    summary: "Signs in; the cookie is the session.",
    who: "anyone",
    body: signIn,
    reply: shapes.session,
  },
  openId: {
    method: "GET",
    url: "/api/openid",
    summary: "Sends the browser to the provider of the accounts, where one is configured.",
    who: "anyone",
    reply: { text: "text/html", about: "A redirect." },
  },
  openIdReturn: {
    method: "GET",
    url: "/api/openid/return",
    summary: "Where the provider sends the browser back to.",
    who: "anyone",
    reply: { text: "text/html", about: "A redirect to the pages." },
  },
  signOut: { method: "POST", url: "/api/sign-out", summary: "Ends the session.", who: "anyone", body: nothing, reply: nothing },
  now: {
    method: "GET",
    url: "/api/now",
    summary: "Warnings in the order of what is left to act on.",
    who: "view",
    query: nowQuery,
    reply: shapes.now,
  },
  warning: {
    method: "GET",
    url: "/api/warning",
    summary: "One warning with its evidence and what was done.",
    who: "view",
    query: warningQuery,
    reply: shapes.oneWarning,
  },
  act: {
    method: "POST",
    url: "/api/act",
    summary: "Takes down what a person did. Sent again with the same id it changes nothing.",
    who: "view",
    body: actRequest,
    reply: shapes.acted,
  },
  line: {
    method: "GET",
    url: "/api/line",
    summary: "Time and distance: passes, expected arrivals, site conditions.",
    who: "view",
    query: lineQuery,
    reply: shapes.line,
  },
  train: {
    method: "GET",
    url: "/api/train",
    summary: "One train: passes, joins, ranked bearings.",
    who: "view",
    query: trainQuery,
    reply: shapes.train,
  },
  sites: {
    method: "GET",
    url: "/api/sites",
    summary: "Sites, their conditions, calibration and functional tests.",
    who: "view",
    query: atQuery,
    reply: shapes.sites,
  },
  handover: {
    method: "GET",
    url: "/api/handover",
    summary: "What is open, what happened, and how loaded the desk was.",
    who: "view",
    query: windowQuery,
    reply: shapes.handover,
  },
  handoverCsv: {
    method: "GET",
    url: "/api/handover.csv",
    summary: "The shift's events as CSV.",
    who: "view",
    query: windowQuery,
    reply: { text: "text/csv", about: "One event a line." },
  },
  audit: {
    method: "GET",
    url: "/api/audit",
    summary: "Every desk action as it was recorded, one JSON object a line.",
    who: "administer",
    query: windowQuery,
    reply: { text: "application/x-ndjson", about: "Desk actions." },
  },
  whatIf: {
    method: "POST",
    url: "/api/what-if",
    summary: "The passes of a window under another rule set.",
    who: "view",
    body: whatIfRequest,
    reply: shapes.whatIf,
  },
  live: {
    method: "GET",
    url: "/api/live",
    summary: "Server-sent events: what changed. Resumes after Last-Event-ID; `anew` when that is too long ago.",
    who: "view",
    reply: { text: "text/event-stream", about: "Events `changes`, `clock`, `anew`." },
  },
  openApi: {
    method: "GET",
    url: "/api/openapi.json",
    summary: "This document.",
    who: "view",
    reply: { text: "application/json", about: "OpenAPI 3.1." },
  },
} as const satisfies Record<string, Route>;

export type Operation = keyof typeof ROUTES;
