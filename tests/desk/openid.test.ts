import { once } from "node:events";
import { createServer, type Server } from "node:http";
import type { AddressInfo } from "node:net";
import Provider from "oidc-provider";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { deskConfig } from "../../src/desk/desk-config.ts";
import { type RunningDesk, startDesk } from "../../src/desk/start-desk.ts";
import type { Session } from "../../src/desk/views/session-shape.ts";
import { BOOK, emptyLog, RAILROAD } from "./railroad.ts";

/** Sign-in by OpenID Connect against a real provider, the way a browser goes. */

const CLIENT = { client_id: "desk", client_secret: "a-secret-of-the-tests" };
const ROLES: Record<string, unknown> = { ada: ["staff", "act"], root: ["act", "administer"], eve: ["staff"] };

let desk: RunningDesk;
let server: Server;

/** Cookies by host, redirects by hand: what a browser does. */
class Browser {
  private readonly jars = new Map<string, Map<string, string>>();

  async ask(url: string, form: Record<string, string> | null = null): Promise<{ url: string; response: Response }> {
    let at = url;
    let body = form;
    for (let hops = 0; hops < 20; hops++) {
      const { host } = new URL(at);
      const jar = this.jars.get(host) ?? new Map<string, string>();
      this.jars.set(host, jar);
      const cookie = [...jar].map(([name, value]) => `${name}=${value}`).join("; ");
      const response = await fetch(at, {
        redirect: "manual",
        headers: { cookie, ...(body === null ? {} : { "content-type": "application/x-www-form-urlencoded" }) },
        ...(body === null ? {} : { method: "POST", body: new URLSearchParams(body).toString() }),
      });
      for (const set of response.headers.getSetCookie()) {
        const [pair = "", ...attributes] = set.split(";");
        const [name = "", value = ""] = pair.split(/=(.*)/s);
        const isGone = value === "" || attributes.some((one) => /expires=thu, 01 jan 1970/i.test(one));
        if (isGone) jar.delete(name);
        else jar.set(name, value);
      }
      const next = response.headers.get("location");
      if (next === null || response.status < 300 || response.status > 399) return { url: at, response };
      at = new URL(next, at).href;
      body = null;
    }
    throw new Error("too many redirects");
  }

  /** All the way through the provider's own pages, as `login`. */
  async signIn(login: string): Promise<{ url: string; response: Response }> {
    let step = await this.ask(`${desk.url}api/openid`);
    for (let pages = 0; pages < 4 && new URL(step.url).pathname.startsWith("/interaction"); pages++) {
      const html = await step.response.text();
      const action = /action="([^"]+)"/.exec(html)![1]!;
      const prompt = /name="prompt" value="([^"]+)"/.exec(html)![1]!;
      step = await this.ask(new URL(action, step.url).href, prompt === "login" ? { prompt, login, password: "any" } : { prompt });
    }
    return step;
  }

  async session(): Promise<Session> {
    return (await (await this.ask(`${desk.url}api/session`)).response.json()) as Session;
  }
}

beforeAll(async () => {
  server = createServer();
  server.listen(0, "127.0.0.1");
  await once(server, "listening");
  const issuer = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
  // The desk's port must be known to the provider before the desk opens.
  const free = createServer();
  free.listen(0, "127.0.0.1");
  await once(free, "listening");
  const { port } = free.address() as AddressInfo;
  free.close();
  await once(free, "close");
  const provider = new Provider(issuer, {
    clients: [{ ...CLIENT, redirect_uris: [`http://127.0.0.1:${port}/api/openid/return`] }],
    claims: { openid: ["sub"], profile: ["preferred_username", "roles"] },
    conformIdTokenClaims: false,
    cookies: { keys: ["a key of the tests"] },
    findAccount: (_context, id) => ({ accountId: id, claims: () => ({ sub: id, preferred_username: id, roles: ROLES[id] }) }),
  });
  server.on("request", provider.callback());
  process.env["DESK_TEST_OPENID"] = CLIENT.client_secret;
  desk = await startDesk({
    config: deskConfig.parse({
      port,
      openid: { issuer, clientId: CLIENT.client_id, clientSecret: "env:DESK_TEST_OPENID", publicUrl: `http://127.0.0.1:${port}/` },
    }),
    log: emptyLog(),
    railroad: RAILROAD,
    book: BOOK,
    pages: false,
  });
});
afterAll(async () => {
  await desk.close();
  server.close();
});

describe("signing in with the railroad's accounts", () => {
  test("gives the name and the highest of the desk's roles that the provider tells", async () => {
    const ada = new Browser();
    expect((await ada.session()).signIn).toEqual(["openid"]);
    await ada.signIn("ada");
    expect((await ada.session()).person).toEqual({ name: "ada", role: "act" });
    const root = new Browser();
    await root.signIn("root");
    expect((await root.session()).person).toEqual({ name: "root", role: "administer" });
  });

  test("who has none of the desk's roles does not get in", async () => {
    const eve = new Browser();
    const { response } = await eve.signIn("eve");
    expect(response.status).toBe(403);
    expect((await eve.session()).person).toBeNull();
  });

  test("an answer that this browser did not ask for, or asked for before, opens nothing", async () => {
    const stranger = new Browser();
    for (const query of ["", "?code=x", "?code=x&state=y", "?error=access_denied"]) {
      const { response } = await stranger.ask(`${desk.url}api/openid/return${query}`);
      expect(response.status, query).toBe(401);
    }
    const begun = new Browser();
    await begun.ask(`${desk.url}api/openid`);
    const { response } = await begun.ask(`${desk.url}api/openid/return?code=forged&state=forged`);
    expect(response.status).toBe(401);
    expect((await begun.session()).person).toBeNull();
  });

  test("without a users file a name alone opens nothing", async () => {
    const answer = await fetch(`${desk.url}api/sign-in`, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: '{"name":"Eve","role":"administer"}',
    });
    expect(answer.status).toBe(401);
  });
});
