import type * as z from "zod";
import type { RuleBook } from "../../warning/rule-book.ts";
import { Acting, type ActRequest } from "../act.ts";
import type { DeskState } from "../board/desk-state.ts";
import type { Desk } from "../desk.ts";
import { Attempts } from "../people/attempts.ts";
import { type OpenId, RETURN_PATH } from "../people/openid.ts";
import type { Person } from "../people/role.ts";
import { csrfOf } from "../people/sessions.ts";
import { Refused } from "../refused.ts";
import { type ClockView, clockView } from "../views/clock-view.ts";
import { handoverCsv } from "../views/handover-csv.ts";
import { eventsOf, handoverView } from "../views/handover-view.ts";
import { lineView } from "../views/line-view.ts";
import { nowView } from "../views/now-view.ts";
import type { Session } from "../views/session-shape.ts";
import { sitesView } from "../views/sites-view.ts";
import { trainView } from "../views/train-view.ts";
import { warningView } from "../views/warning-view.ts";
import { WhatIfs } from "../what-if.ts";
import type { Doorkeeper } from "./doorkeeper.ts";
import { LiveStream } from "./live-stream.ts";
import { openApiText } from "./openapi.ts";
import type { atQuery, lineQuery, nowQuery, signIn, trainQuery, warningQuery, whatIfRequest, windowQuery } from "./routes.ts";
import type { Asked, Handlers } from "./server.ts";

export interface HandlerParts {
  desk: Desk;
  doorkeeper: Doorkeeper;
  operators: number;
  otherRules: ReadonlyMap<string, RuleBook>;
  /** What is to be said of a demonstration; null: it is none. */
  demonstration: string | null;
  counts: DeskCounts;
}

/** What the metrics want to know. */
export interface DeskCounts {
  listening(pages: number): void;
  dropped(): void;
  acted(action: string): void;
  refusedSignIn(): void;
}

export interface Opened {
  handlers: Handlers;
  close(): Promise<void>;
}

/** What each operation of the API does, over the live state or over one of the past. */
export function handlersOf(parts: HandlerParts): Opened {
  const { desk, doorkeeper, operators, demonstration, counts } = parts;
  const acting = new Acting(desk);
  const whatIfs = new WhatIfs(desk, parts.otherRules);
  const attempts = new Attempts();
  const streams = new Set<LiveStream>();

  const stand = async (at: number | undefined): Promise<{ state: DeskState; clock: ClockView }> => {
    if (at === undefined) return { state: desk.state, clock: clockView(desk.state, desk.clock.nowMs(), desk.clock.speed) };
    const { state, lacks } = await desk.past.at(at);
    return { state, clock: clockView(state, at, 0, lacks) };
  };
  const place = () => `${desk.hub.epoch}-${desk.hub.last}`;
  const sessionOf = (person: Person | null, csrf: string | null): Session => {
    const { id, name, timeZone, demonstration: isInvented, sites } = desk.state.lines;
    const isIn = person !== null;
    return {
      person,
      csrf,
      signIn: waysIn(doorkeeper),
      railroad: { id, name, timeZone, demonstration: isInvented },
      demonstration,
      clock: clockView(desk.state, desk.clock.nowMs(), desk.clock.speed),
      historyFromMs: isIn ? (desk.past.begun()?.fromMs ?? null) : null,
      people: isIn ? (doorkeeper.users?.names() ?? []) : [],
      ruleSets: isIn ? whatIfs.names() : [],
      sites: isIn ? [...sites.values()].map(({ id: site, name: called, milepost, line }) => ({ site, name: called, milepost, line })) : [],
    };
  };

  const handlers: Handlers = {
    session: async ({ request }) => {
      const person = await doorkeeper.personOf(request);
      return sessionOf(person, person === null ? null : doorkeeper.csrf(request));
    },
    signIn: async ({ body, reply, request }) => {
      if (!attempts.isAllowed(request.ip))
        throw new Refused(429, "DESK-031 too-often", "Too many sign-ins from this address. Wait a minute.");
      const person = await signedIn(doorkeeper, body as z.infer<typeof signIn>);
      if (person === null) {
        counts.refusedSignIn();
        throw new Refused(401, "DESK-015 sign-in", "Name or password is not right.");
      }
      const id = doorkeeper.begin(reply, person, doorkeeper.byNameOnly ? "name" : "users");
      return sessionOf(person, csrfOf(id));
    },
    openId: async ({ reply }) => {
      const { url, state } = await openIdOf(doorkeeper).begin(Date.now());
      // Lax: the browser must bring it along when the provider sends it back.
      reply.setCookie(STATE_COOKIE, state, { path: RETURN_PATH, httpOnly: true, sameSite: "lax", secure: doorkeeper.secure });
      reply.redirect(url.href);
      return undefined;
    },
    openIdReturn: async ({ request, reply }) => {
      const at = request.url.indexOf("?");
      const state = request.cookies[STATE_COOKIE] ?? "";
      reply.clearCookie(STATE_COOKIE, { path: RETURN_PATH });
      const person = await openIdOf(doorkeeper).end(at < 0 ? "" : request.url.slice(at), state, Date.now());
      doorkeeper.begin(reply, person, "openid");
      reply.redirect("/");
      return undefined;
    },
    signOut: ({ request, reply }) => {
      doorkeeper.end(request, reply);
      return {};
    },
    now: async ({ query }) => {
      const { at, from, count, closed } = query as z.infer<typeof nowQuery>;
      const { state, clock } = await stand(at);
      return nowView(state, state.lines, { from, count, closed: closed === "true" }, clock, place());
    },
    warning: async ({ query }) => {
      const { id, at } = query as z.infer<typeof warningQuery>;
      const { state, clock } = await stand(at);
      return known(warningView(state, state.lines, id, clock));
    },
    act: async ({ body, person }) => {
      const request = body as ActRequest;
      const acted = await acting.take(request, person as Person);
      if (!acted.repeated) counts.acted(request.action);
      return acted;
    },
    line: async ({ query }) => {
      const { fromMs, toMs, at } = query as z.infer<typeof lineQuery>;
      const { state, clock } = await stand(at);
      return lineView(state, state.lines, fromMs, toMs, clock, place());
    },
    train: async ({ query }) => {
      const { journey, at } = query as z.infer<typeof trainQuery>;
      const { state, clock } = await stand(at);
      return known(trainView(state, state.lines, journey, clock));
    },
    sites: async ({ query }) => {
      const { state, clock } = await stand((query as z.infer<typeof atQuery>).at);
      return sitesView(state, state.lines, clock);
    },
    handover: async ({ query }) => {
      const { fromMs, toMs, at } = query as z.infer<typeof windowQuery>;
      const { state, clock } = await stand(at);
      return handoverView(state, state.lines, fromMs, toMs, operators, clock);
    },
    handoverCsv: async ({ query, reply }) => {
      const { fromMs, toMs, at } = query as z.infer<typeof windowQuery>;
      const { state, clock } = await stand(at);
      asFile(reply, "text/csv; charset=utf-8", "handover.csv");
      const events = eventsOf(state, state.lines, fromMs, toMs);
      return handoverCsv(state.board.rows(), events, handoverView(state, state.lines, fromMs, toMs, operators, clock));
    },
    audit: ({ query, reply }) => {
      const { fromMs, toMs } = query as z.infer<typeof windowQuery>;
      asFile(reply, "application/x-ndjson; charset=utf-8", "desk-actions.jsonl");
      return auditText(desk, fromMs, toMs);
    },
    whatIf: ({ body }) => {
      const { rules, fromMs, toMs } = body as z.infer<typeof whatIfRequest>;
      return whatIfs.run(rules, fromMs, toMs);
    },
    live: ({ request, reply }) => {
      listen(request, reply, desk, streams, counts);
      return undefined;
    },
    openApi: ({ reply }) => {
      reply.type("application/json; charset=utf-8");
      return openApiText();
    },
  };
  return {
    handlers,
    close: async () => {
      for (const stream of streams) stream.end();
      await acting.close();
    },
  };
}

/** Holds the state of a sign-in at the provider, for as long as it takes. */
const STATE_COOKIE = "desk-openid";

function openIdOf({ openId }: Doorkeeper): OpenId {
  if (openId === null) throw new Refused(404, "DESK-022 unknown", "No provider of accounts is configured (desk.openid).");
  return openId;
}

function waysIn({ byNameOnly, users, openId }: Doorkeeper): Session["signIn"] {
  if (byNameOnly) return ["name"];
  return [...(users === null ? [] : (["password"] as const)), ...(openId === null ? [] : (["openid"] as const))];
}

async function signedIn(doorkeeper: Doorkeeper, { name, password, role }: z.infer<typeof signIn>): Promise<Person | null> {
  if (doorkeeper.byNameOnly) {
    // Nobody can be told from anybody here, so the role is what the person says.
    const plain = name.trim();
    return plain === "" || /[\p{Cc}\p{Cs}]/u.test(plain) ? null : { name: plain, role: role ?? "administer" };
  }
  if (doorkeeper.users === null || password === undefined) return null;
  return doorkeeper.users.signIn(name, password);
}

function known<T>(value: T | null): T {
  if (value === null) throw new Refused(404, "DESK-022 unknown", "The desk does not know it, or let it go long ago.");
  return value;
}

function asFile(reply: Asked["reply"], type: string, name: string): void {
  reply.type(type).header("content-disposition", `attachment; filename="${name}"`);
}

/** Every action in a window as it was recorded, a line each; where there are more than one answer may hold, the last line says so. */
async function auditText(desk: Desk, fromMs: number, toMs: number): Promise<string> {
  const lines: string[] = [];
  const isCut = await desk.past.actions(fromMs, toMs, ({ arrivedMs, action }) => {
    lines.push(`${JSON.stringify({ arrivedAt: new Date(arrivedMs).toISOString(), ...action })}\n`);
  });
  if (isCut)
    lines.push(`${JSON.stringify({ cut: true, message: `There are more than these ${lines.length}. Ask for a shorter time.` })}\n`);
  return lines.join("");
}

function listen(request: Asked["request"], reply: Asked["reply"], desk: Desk, streams: Set<LiveStream>, counts: DeskCounts): void {
  const { hub } = desk;
  const said = String(request.headers["last-event-id"] ?? (request.query as { after?: string })["after"] ?? "");
  const from = said === "" ? null : hub.placeOf(said);
  const stream = new LiveStream(desk, reply.raw, from ?? hub.last, (stalled) => {
    streams.delete(stream);
    counts.listening(streams.size);
    if (stalled) counts.dropped();
  });
  if (!hub.listen(stream)) {
    stream.end();
    throw new Refused(429, "DESK-032 too-many", "Too many pages are connected.");
  }
  streams.add(stream);
  counts.listening(streams.size);
  reply.hijack();
  reply.raw.writeHead(200, {
    ...(reply.getHeaders() as Record<string, string>),
    "content-type": "text/event-stream; charset=utf-8",
    "cache-control": "no-store",
    "x-accel-buffering": "no",
  });
  stream.open(said !== "" && from === null);
}
