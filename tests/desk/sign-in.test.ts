import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { deskConfig } from "../../src/desk/desk-config.ts";
import { addToken, removeUser, setUser } from "../../src/desk/people/users.ts";
import { SIGN_INS_A_MINUTE } from "../../src/desk/server/server.ts";
import { type RunningDesk, startDesk } from "../../src/desk/start-desk.ts";
import type { Session } from "../../src/desk/views/session-shape.ts";
import { Client } from "./client.ts";
import { BOOK, emptyLog, RAILROAD } from "./railroad.ts";

const folder = mkdtempSync(join(tmpdir(), "desk-sign-in-"));
const users = join(folder, "users.json");
const sessions = join(folder, "sessions.json");
const PASSWORD = "four plain words here";
let desk: RunningDesk;

const open = () =>
  startDesk({ config: deskConfig.parse({ port: 0, users, sessions }), log: emptyLog(), railroad: RAILROAD, book: BOOK, pages: false });

beforeAll(async () => {
  await setUser(users, "Ada", "act", PASSWORD);
  await setUser(users, "Ben", "view", PASSWORD);
  desk = await open();
});
afterAll(async () => {
  await desk.close();
  rmSync(folder, { recursive: true });
});

describe("signing in", () => {
  test("with name and password; the role is the file's, whatever is asked for", async () => {
    const client = new Client(desk.url);
    expect((await client.signIn("Ada", "administer", PASSWORD)).status).toBe(200);
    expect((await client.json<Session>("/api/session")).person).toEqual({ name: "Ada", role: "act" });
  });

  test("lasts over a restart of the server, and ends when the user is taken out", async () => {
    const client = new Client(desk.url);
    await client.signIn("Ben", undefined, PASSWORD);
    await desk.close();
    desk = await open();
    const again = new Client(desk.url);
    again.cookie = client.cookie;
    expect((await again.get("/api/now")).status).toBe(200);
    removeUser(users, "Ben");
    expect((await again.get("/api/now")).status).toBe(401);
  });

  test("a program asks with a token, changes nothing beyond its role, and needs no cookie", async () => {
    const token = await addToken(users, "Ada", "wall board", "view");
    const client = new Client(desk.url);
    const authorization = `Bearer ${token}`;
    expect((await client.get("/api/now", { authorization })).status).toBe(200);
    const note = { id: "t/1", action: "note", site: "garrow-160", text: "x" };
    expect((await client.post("/api/act", note, { authorization })).status).toBe(403);
    expect((await client.get("/api/now", { authorization: `${authorization}x` })).status).toBe(401);
  });

  test("tried too often is refused for a while", async () => {
    const client = new Client(desk.url);
    const statuses: number[] = [];
    for (let i = 0; i < SIGN_INS_A_MINUTE + 3; i++) statuses.push((await client.signIn("Ada", undefined, "wrong wrong wrong")).status);
    expect(statuses).toContain(401);
    expect(statuses.at(-1)).toBe(429);
    expect((await client.signIn("Ada", undefined, PASSWORD)).status).toBe(429);
  });
});
