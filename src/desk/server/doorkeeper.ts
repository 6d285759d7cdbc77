import type { FastifyReply, FastifyRequest } from "fastify";
import type { DeskConfig } from "../desk-config.ts";
import { OpenId } from "../people/openid.ts";
import { may, type Person } from "../people/role.ts";
import { csrfOf, type Sessions, type SignedInBy } from "../people/sessions.ts";
import type { Users } from "../people/users.ts";
import { Refused } from "../refused.ts";
import { isLoopback } from "../safe-opening.ts";
import type { Route } from "./routes.ts";

/** Header that proves a change came from a page of ours: another site's page can send our cookie, but cannot read this. */
export const CSRF_HEADER = "x-desk-csrf";

/** Who asks, and whether they may: sessions by cookie, programs by token. */
export class Doorkeeper {
  readonly users: Users | null;
  readonly sessions: Sessions;
  readonly cookie: string;
  readonly secure: boolean;
  readonly openId: OpenId | null;
  /** Nobody was set up and only this machine can ask: a name is enough. */
  readonly byNameOnly: boolean;

  constructor(config: DeskConfig, users: Users | null, sessions: Sessions) {
    this.users = users;
    this.sessions = sessions;
    this.secure = config.tls !== undefined || config.proxy !== undefined;
    this.cookie = this.secure ? "__Host-desk" : "desk";
    this.openId = config.openid === undefined ? null : new OpenId(config.openid);
    this.byNameOnly = users === null && config.openid === undefined && isLoopback(config.host);
  }

  /** The person of a request; null when nobody is signed in. */
  async personOf(request: FastifyRequest): Promise<Person | null> {
    const { authorization } = request.headers;
    if (authorization !== undefined) {
      const token = /^Bearer ([\w.-]{1,400})$/.exec(authorization)?.[1];
      return token === undefined || this.users === null ? null : this.users.byToken(token);
    }
    const id = request.cookies[this.cookie];
    if (id === undefined) return null;
    const session = this.sessions.person(id);
    if (session === null) return null;
    const { name, role, by } = session;
    // The file has the last word on its own people: who was taken out or given another role is so at once.
    if (by === "users") return this.users?.person(name) ?? null;
    if (by === "openid") return this.openId === null ? null : { name, role };
    return this.byNameOnly ? { name, role } : null;
  }

  csrf(request: FastifyRequest): string | null {
    const id = request.cookies[this.cookie];
    return id === undefined ? null : csrfOf(id);
  }

  /** @throws Refused when the request may not do this */
  async check(request: FastifyRequest, route: Route): Promise<Person | null> {
    this.checkHost(request);
    const byToken = request.headers.authorization !== undefined;
    if (route.method === "POST") {
      checkOrigin(request);
      const isSignedIn = route.who !== "anyone";
      if (isSignedIn && !byToken && request.headers[CSRF_HEADER] !== this.csrf(request))
        throw new Refused(403, "DESK-013 csrf", "The request did not come from a page of this desk. Load the page again.");
    }
    if (route.who === "anyone") return null;
    const person = await this.personOf(request);
    if (person === null) throw new Refused(401, "DESK-011 not-signed-in", "Sign in first.");
    if (!may(person.role, route.who))
      throw new Refused(403, "DESK-012 not-allowed", `This needs the role ${route.who}; yours is ${person.role}.`);
    return person;
  }

  begin(reply: FastifyReply, person: Person, by: SignedInBy): string {
    const id = this.sessions.begin(person, by);
    reply.setCookie(this.cookie, id, { path: "/", httpOnly: true, sameSite: "strict", secure: this.secure });
    return id;
  }

  end(request: FastifyRequest, reply: FastifyReply): void {
    const id = request.cookies[this.cookie];
    if (id !== undefined) this.sessions.end(id);
    reply.clearCookie(this.cookie, { path: "/", httpOnly: true, sameSite: "strict", secure: this.secure });
  }

  /** A name that somebody else's DNS points here must not open a desk without users. */
  private checkHost(request: FastifyRequest): void {
    if (!this.byNameOnly || isLoopback(request.hostname)) return;
    throw new Refused(403, "DESK-014 host", "Without users this desk answers under localhost only.");
  }
}

function checkOrigin(request: FastifyRequest): void {
  const { origin } = request.headers;
  if (origin === undefined) return;
  let host = "";
  try {
    host = new URL(origin).host;
  } catch {
    // "null" and nonsense are strangers.
  }
  if (host !== request.host) throw new Refused(403, "DESK-013 csrf", "The request came from a page of somebody else.");
}
