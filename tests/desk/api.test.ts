import { readFileSync } from "node:fs";
import fc from "fast-check";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import type { Changes } from "../../src/desk/server/live-stream.ts";
import { openApi, openApiText } from "../../src/desk/server/openapi.ts";
import { ROUTES, type Route } from "../../src/desk/server/routes.ts";
import type { RunningDesk } from "../../src/desk/start-desk.ts";
import type { Acted, Problem } from "../../src/desk/views/act-shape.ts";
import type { Handover } from "../../src/desk/views/handover-shape.ts";
import type { Line } from "../../src/desk/views/line-shape.ts";
import type { Now } from "../../src/desk/views/now-shape.ts";
import type { OneWarning } from "../../src/desk/views/warning-shape.ts";
import type { WhatIf } from "../../src/desk/views/what-if-shape.ts";
import { Client } from "./client.ts";
import { deskOnDay, type RunningRailroad } from "./railroad.ts";

const NOW_MS = Date.parse("2026-03-04T14:00:00Z");
const FROM_MS = Date.parse("2026-03-04T00:00:00Z");

let running: RunningRailroad;
let desk: RunningDesk;
let close: () => Promise<void>;
let ada: Client;

beforeAll(async () => {
  ({ running, desk, close } = await deskOnDay(NOW_MS, { pages: false }));
  ada = new Client(desk.url);
  await ada.signIn("Ada", "administer");
});
afterAll(() => close());

async function signedIn(name: string, role: string): Promise<Client> {
  const client = new Client(desk.url);
  // One address signs in ten times a minute at most; the tests are many people at one.
  const id = desk.desk.hub.epoch;
  expect(id).not.toBe("");
  const answer = await client.signIn(name, role);
  expect(answer.status).toBe(200);
  return client;
}

let counter = 0;
const newId = () => `test/${++counter}`;

async function openRow(skip: readonly string[] = []): Promise<Now["rows"][number]> {
  const { rows } = await ada.json<Now>("/api/now");
  const row = rows.find((one) => one.state === "unacknowledged" && !skip.includes(one.id));
  expect(row).toBeDefined();
  return row!;
}

describe("the document of the API", () => {
  test("is committed as it is generated", () => {
    expect(readFileSync("deploy/openapi.json", "utf8")).toBe(openApiText());
  });

  test("answers keep to it", async () => {
    const { rows } = await ada.json<Now>("/api/now?closed=true");
    const window = `fromMs=${FROM_MS}&toMs=${NOW_MS}`;
    const asks: Record<string, string[]> = {
      session: ["/api/session"],
      now: ["/api/now", `/api/now?closed=true&at=${NOW_MS - 7_200_000}`],
      warning: rows.map((row) => `/api/warning?id=${encodeURIComponent(row.id)}`),
      line: [`/api/line?${window}`, `/api/line?${window}&at=${NOW_MS - 7_200_000}`],
      train: rows.slice(0, 6).map((row) => `/api/train?journey=${encodeURIComponent(row.journey)}`),
      sites: ["/api/sites", `/api/sites?at=${NOW_MS - 10_000_000}`],
      handover: [`/api/handover?${window}`, `/api/handover?${window}&at=${NOW_MS - 7_200_000}`],
    };
    expect(rows.length).toBeGreaterThan(5);
    for (const [name, paths] of Object.entries(asks)) {
      const { reply } = ROUTES[name as keyof typeof ROUTES] as Route;
      for (const path of paths) {
        const body = await ada.json<unknown>(path);
        const judged = (reply as Exclude<Route["reply"], { text: string }>).safeParse(body);
        expect(judged.error?.issues ?? [], path).toEqual([]);
      }
    }
  });
});

describe("who may", () => {
  test("nobody who is not signed in, and nobody more than their role", async () => {
    const stranger = new Client(desk.url);
    for (const route of Object.values(ROUTES) as Route[]) {
      if (route.who === "anyone" || route.method === "POST") continue;
      expect((await stranger.get(route.url)).status, route.url).toBe(401);
    }
    const eve = await signedIn("Eve", "view");
    const row = await openRow();
    const act = { id: newId(), action: "acknowledge", warning: row.id, seen: { version: row.version, actions: row.actions } };
    expect((await eve.post("/api/act", act)).status).toBe(403);
    expect((await eve.get(`/api/audit?fromMs=0&toMs=${NOW_MS}`)).status).toBe(403);
    const mia = await signedIn("Mia", "maintain");
    expect((await mia.post("/api/act", act)).status).toBe(403);
    expect((await mia.post("/api/act", { id: newId(), action: "note", site: "garrow-160", text: "on my way" })).status).toBe(200);
  });

  test("a change needs what only a page of ours can know, and no foreign page", async () => {
    const row = await openRow();
    const act = { id: newId(), action: "note", warning: row.id, text: "x" };
    expect((await ada.post("/api/act", act, { "x-desk-csrf": "wrong" })).status).toBe(403);
    expect((await ada.post("/api/act", act, { origin: "https://elsewhere.example" })).status).toBe(403);
    expect((await ada.post("/api/act", act, { origin: "null" })).status).toBe(403);
    expect((await ada.post("/api/act", act, { origin: new URL(desk.url).origin })).status).toBe(200);
  });

  test("cookies are kept from scripts and other sites, and pages obey a policy without inline script", async () => {
    const client = new Client(desk.url);
    const answer = await client.signIn("Ben", "act");
    expect(answer.headers.get("set-cookie")).toMatch(/HttpOnly/);
    expect(answer.headers.get("set-cookie")).toMatch(/SameSite=Strict/);
    const policy = answer.headers.get("content-security-policy")!;
    expect(policy).toContain("default-src 'none'");
    expect(policy).not.toMatch(/unsafe|data:|\*/);
    await client.post("/api/sign-out", {});
    expect((await client.get("/api/now")).status).toBe(401);
  });
});

describe("an action", () => {
  test("is taken down once, however often it is sent, and folded by the engine", async () => {
    const row = await openRow();
    const act = { id: newId(), action: "acknowledge", warning: row.id, seen: { version: row.version, actions: row.actions } };
    const answers = await Promise.all([1, 2, 3].map(async () => (await (await ada.post("/api/act", act)).json()) as Acted));
    expect(answers.filter((one) => !one.repeated)).toHaveLength(1);
    expect(answers[0]!.row!.state).toBe("acknowledged");
    await running.quiet();
    const after = await ada.json<OneWarning>(`/api/warning?id=${encodeURIComponent(row.id)}`);
    expect(after.actions.filter(({ action }) => action.id === act.id)).toHaveLength(1);
    expect(after.warning.state).toBe("acknowledged");
    expect(after.row).toMatchObject({ pending: false, owner: "Ada" });
  });

  test("of the second of two at once shows what the first did, and nothing of either is lost", async () => {
    const row = await openRow();
    const [ben, cleo] = [await signedIn("Ben", "act"), await signedIn("Cleo", "act")];
    const seen = { version: row.version, actions: row.actions };
    const [first, second] = await Promise.all([
      ben.post("/api/act", { id: newId(), action: "acknowledge", warning: row.id, seen }),
      cleo.post("/api/act", { id: newId(), action: "assign", to: "Cleo", warning: row.id, seen }),
    ]);
    expect([first.status, second.status].sort()).toEqual([200, 409]);
    const refused = (await (first.status === 409 ? first : second).json()) as Problem;
    expect(refused.code).toBe("DESK-020 changed-meanwhile");
    expect(refused.since).toHaveLength(1);
    expect(refused.row!.actions).toBe(row.actions + 1);
    const again = { version: refused.row!.version, actions: refused.row!.actions };
    const later = first.status === 409 ? { action: "acknowledge" } : { action: "assign", to: "Cleo" };
    const third = await cleo.post("/api/act", { id: newId(), warning: row.id, seen: again, ...later });
    expect(third.status).toBe(200);
    expect(((await third.json()) as Acted).row!.actions).toBe(row.actions + 2);
  });

  test("that cannot be is refused with what to do", async () => {
    const row = await openRow();
    const seen = { version: row.version, actions: row.actions };
    const refused = async (what: object, status: number, says: RegExp) => {
      const answer = await ada.post("/api/act", { id: newId(), warning: row.id, seen, ...what });
      expect(answer.status, JSON.stringify(what)).toBe(status);
      expect(((await answer.json()) as Problem).message).toMatch(says);
    };
    await refused({ action: "found", found: "nothing-found" }, 422, /heat stick/);
    await refused({ action: "found" }, 422, /what was found/);
    await refused({ action: "assign" }, 422, /who/);
    await refused({ action: "note" }, 422, /words/);
    await refused({ action: "unshelve" }, 409, /not shelved/);
    await refused({ action: "acknowledge", warning: "W-none" }, 404, /no such warning/);
    if (row.level === "limit")
      await refused({ action: "shelve", text: "x", until: new Date(NOW_MS + 60_000).toISOString() }, 409, /cannot be shelved/);
    else await refused({ action: "shelve", text: "x", until: new Date(NOW_MS + 10 * 3_600_000).toISOString() }, 422, /at most 4 hours/);
  });

  test("is in the audit with who and when", async () => {
    const text = await (await ada.get(`/api/audit?fromMs=${FROM_MS}&toMs=${NOW_MS}`)).text();
    const acts = text
      .trim()
      .split("\n")
      .map((line) => JSON.parse(line) as Record<string, unknown>);
    expect(acts.length).toBeGreaterThan(2);
    for (const act of acts)
      expect(act).toMatchObject({ type: "desk-action", by: expect.any(String), time: expect.any(String), arrivedAt: expect.any(String) });
    expect(new Set(acts.map((act) => act["id"])).size).toBe(acts.length);
  });
});

describe("the stream of changes", () => {
  test("tells of an action to everybody at once, and after a break exactly what was missed", async () => {
    const { place } = await ada.json<Now>("/api/now");
    const row = await openRow();
    const note = async (text: string) => ada.post("/api/act", { id: newId(), action: "note", warning: row.id, text });
    const rowsIn = (events: readonly { event: string; data: unknown }[]) =>
      events.filter(({ event }) => event === "changes").flatMap(({ data }) => (data as Changes).rows);
    const watching = ada.events(`/api/live?after=${place}`, (events) => rowsIn(events).some((one) => one.actions > row.actions));
    await note("one");
    const events = await watching;
    const lastId = events.at(-1)!.id;
    await note("two");
    await note("three");
    const missed = await ada.events("/api/live", (seen) => rowsIn(seen).length > 0, { "last-event-id": lastId });
    expect(missed.some(({ event }) => event === "anew")).toBe(false);
    expect(rowsIn(missed).find((one) => one.id === row.id)!.actions).toBeGreaterThanOrEqual(row.actions + 3);
  });

  test("after another run of the server everything is asked for anew", async () => {
    const events = await ada.events("/api/live", (seen) => seen.length > 1, { "last-event-id": "someotherrun-7" });
    expect(events[0]!.event).toBe("anew");
  });
});

describe("the shift", () => {
  test("as CSV holds what is open, every event once, and no cell computes", async () => {
    const row = await openRow();
    await ada.post("/api/act", { id: newId(), action: "note", warning: row.id, text: '=HYPERLINK("http://x.example","y")' });
    const text = await (await ada.get(`/api/handover.csv?fromMs=${FROM_MS}&toMs=${NOW_MS}`)).text();
    expect(text).toContain("time,what,about,by,words,warning\r\n");
    expect(text).toContain(`"'=HYPERLINK(""http://x.example"",""y"")"`);
    expect(text).not.toMatch(/(^|,)"?=/m);
    const { open } = await ada.json<Handover>(`/api/handover?fromMs=${FROM_MS}&toMs=${NOW_MS}`);
    const openIds = [...text.matchAll(/^[^,]+,open,.*,(\S+)\r$/gm)].map(([, id]) => id);
    expect(openIds).toEqual(open.map(({ id }) => id));
    const { operators, measures } = await ada.json<Handover>(`/api/handover?fromMs=${FROM_MS}&toMs=${NOW_MS}`);
    expect(operators.map(({ name }) => name)).toContain("Ada");
    expect(operators.reduce((sum, one) => sum + one.alarms, 0)).toBe(measures.alarms);
    for (const { name, alarms } of operators)
      expect(text).toContain(`${new Date(NOW_MS).toISOString()},measure,alarms answered first,${name ?? "nobody"},${alarms},\r\n`);
  });
});

describe("the line", () => {
  test("tells of each warned train its journeys in every corridor: those that share a pass with it, and no other train's", async () => {
    const { points, rows, warned } = await ada.json<Line>(`/api/line?fromMs=${FROM_MS}&toMs=${NOW_MS}`);
    expect(warned.map(({ id }) => id)).toEqual(rows.map(({ id }) => id));
    const byPass = Map.groupBy(points, ({ pass }) => pass);
    let elsewhere = 0;
    for (const [i, { journeys }] of warned.entries()) {
      const { journey, corridor, train } = rows[i]!;
      const own = points.filter((point) => point.journey === journey && point.corridor === corridor);
      for (const other of own.flatMap(({ pass }) => byPass.get(pass)!).filter((point) => point.corridor !== corridor)) {
        expect(journeys).toContain(other.journey);
        elsewhere++;
      }
      for (const point of points) if (journeys.includes(point.journey) && train !== null) expect([train, null]).toContain(point.train);
    }
    expect(elsewhere).toBeGreaterThan(0);
  });
});

describe("looking back", () => {
  test("shows what had come by then and nothing that came later", async () => {
    const at = Date.parse("2026-03-04T06:00:00Z");
    const then = await ada.json<Now>(`/api/now?closed=true&count=1000&at=${at}`);
    expect(then.rows.length).toBeGreaterThan(0);
    for (const row of then.rows) expect(row.raisedMs).toBeLessThanOrEqual(at);
    const now = await ada.json<Now>("/api/now?closed=true&count=1000");
    expect(now.total).toBeGreaterThan(then.total);
  });

  test("another rule set over the same passes says what it would have said, and changes nothing", async () => {
    const before = await ada.json<Now>("/api/now?closed=true&count=1000");
    const answer = await ada.post("/api/what-if", { rules: "cautious", fromMs: FROM_MS, toMs: NOW_MS });
    const found = (await answer.json()) as WhatIf;
    expect(answer.status).toBe(200);
    expect(found.passes).toBeGreaterThan(200);
    const { counts } = found;
    expect(counts.only + counts.earlier).toBeGreaterThan(0);
    expect(counts.same + counts.later + counts.earlier + counts.only + counts.lost).toBe(found.bearings.length);
    expect((await ada.json<Now>("/api/now?closed=true&count=1000")).rows).toEqual(before.rows);
    expect((await ada.post("/api/what-if", { rules: "none", fromMs: 1, toMs: 2 })).status).toBe(404);
  });
});

describe("bad requests", () => {
  test("a time that is missing or none is told as what it must be", async () => {
    for (const query of ["", "?fromMs=noon&toMs=2"]) {
      const answer = await ada.get(`/api/audit${query}`);
      expect(answer.status).toBe(400);
      expect(((await answer.json()) as Problem).message).toBe("query.fromMs: must be a time in milliseconds since 1970");
    }
  });

  test("the document says which role an action needs, as the desk asks for it", () => {
    const { paths } = openApi() as { paths: Record<string, Record<string, { description?: string }>> };
    expect(paths["/api/act"]!["post"]!.description).toMatch(/role act for .+a warning.+maintain/);
    expect(paths["/api/now"]!["get"]!.description).toBe("Needs the role view.");
  });

  const json = fc.anything({ maxDepth: 3, withNullPrototype: false, withBigInt: false });
  const near = fc.record(
    {
      id: fc.oneof(fc.string(), fc.constant("x/1")),
      action: fc.oneof(
        fc.constantFrom("acknowledge", "assign", "note", "found", "shelve", "unshelve", "return-to-service", "out-of-service"),
        fc.string(),
      ),
      warning: fc.oneof(fc.string({ unit: "binary" }), fc.constant("W-none")),
      site: fc.oneof(fc.string(), fc.constant("garrow-160")),
      to: fc.string(),
      text: fc.string({ unit: "binary" }),
      found: fc.oneof(fc.string(), fc.constant("nothing-found")),
      until: fc.oneof(fc.string(), fc.constant("2026-03-04T15:00:00Z")),
      seen: fc.oneof(json, fc.record({ version: fc.integer(), actions: fc.integer() })),
    },
    { requiredKeys: [] },
  );

  test("are never answered with a fault of ours: bodies", async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.constantFrom("/api/act", "/api/sign-in", "/api/what-if"),
        fc.oneof(json, near, fc.string()),
        async (path, body) => {
          const text = typeof body === "string" ? body : (JSON.stringify(body) ?? "");
          const answer = await ada.post(path, text);
          expect(answer.status).toBeLessThan(500);
          await answer.arrayBuffer();
        },
      ),
      { numRuns: 300 },
    );
  });

  test("are never answered with a fault of ours: addresses and questions", async () => {
    const paths = Object.values(ROUTES)
      .filter((route) => route.method === "GET" && route.url !== "/api/live")
      .map((route) => route.url);
    const value = fc.oneof(
      fc.string({ unit: "binary" }),
      fc.double().map(String),
      fc.constantFrom("", "-1", "1e99", "NaN", "%00", "%E0%A4%A", "../../etc/passwd"),
    );
    const query = fc.dictionary(fc.constantFrom("id", "at", "from", "count", "fromMs", "toMs", "journey", "closed", "x"), value, {
      maxKeys: 4,
    });
    await fc.assert(
      fc.asyncProperty(fc.oneof(fc.constantFrom(...paths), fc.webPath()), query, fc.boolean(), async (path, asked, isRaw) => {
        const text = Object.entries(asked)
          .map(([name, one]) => `${name}=${isRaw ? one.replace(/[^\x21-\x7e]|[#&\s]/g, "") : encodeURIComponent(one.toWellFormed())}`)
          .join("&");
        const answer = await ada.get(`${path.startsWith("/") ? path : `/${path}`}?${text}`);
        expect(answer.status, `${path}?${text}`).toBeLessThan(500);
        await answer.arrayBuffer();
      }),
      { numRuns: 300 },
    );
  });

  test("too large a body is refused", async () => {
    expect((await ada.post("/api/act", `{"id":"${"x".repeat(40_000)}"}`)).status).toBe(413);
  });
});
