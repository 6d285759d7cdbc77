import { describe, expect, test } from "vitest";
import { deskConfig } from "../../src/desk/desk-config.ts";
import { startDesk } from "../../src/desk/start-desk.ts";
import type { Problem } from "../../src/desk/views/act-shape.ts";
import type { Session } from "../../src/desk/views/session-shape.ts";
import type { SitesView } from "../../src/desk/views/sites-shape.ts";
import type { OneWarning } from "../../src/desk/views/warning-shape.ts";
import type { WhatIf } from "../../src/desk/views/what-if-shape.ts";
import type { Log } from "../../src/log/log.ts";
import { RuleBook } from "../../src/warning/rule-book.ts";
import type { Rules } from "../../src/warning/rule-set.ts";
import { announcement, changedContents } from "../flow/changed-line.ts";
import { Client } from "./client.ts";
import { BOOK, CAUTIOUS, emptyLog, RAILROAD } from "./railroad.ts";
import { warning } from "./samples.ts";

/** Rules and lines that are announced while a desk runs, whose own files are the old ones. */

const HOUR_MS = 3_600_000;

async function opened(log: Log, nowMs: () => number) {
  const desk = await startDesk({
    config: deskConfig.parse({ port: 0 }),
    log,
    railroad: RAILROAD,
    book: new RuleBook(BOOK.sets),
    otherRules: new Map([["cautious", CAUTIOUS]]),
    clock: { nowMs, speed: 1 },
    pages: false,
  });
  const client = new Client(desk.url);
  await client.signIn("Ada", "administer");
  return { desk, client };
}

describe("rules announced while the desk runs", () => {
  test("are in force from their date: how long may be shelved, and what a what-if is held against", async () => {
    const log = emptyLog();
    const nowMs = Date.now();
    const { desk, client } = await opened(log, () => nowMs);
    await log.append([{ topic: "warnings", key: "W-0001", value: JSON.stringify(warning()) }]);
    await expect.poll(() => desk.desk.state.board.size).toBe(1);
    const hours = async () => (await client.json<OneWarning>("/api/warning?id=W-0001")).shelveMaxHours;
    expect(await hours()).toBe(4);
    const last = BOOK.sets.at(-1)!;
    const announce = (id: string, fromMs: number, shelveMaxHours: number) => {
      const rules: Rules = { ...last, id, from: new Date(fromMs).toISOString(), desk: { ...last.desk, shelveMaxHours } };
      const value = JSON.stringify({ type: "rules", time: new Date(nowMs).toISOString(), rules });
      return log.append(RAILROAD.corridors.map((corridor) => ({ topic: "passes", key: corridor.id, value })));
    };
    await announce("tomorrow", nowMs + 24 * HOUR_MS, 3);
    await announce("today", nowMs - HOUR_MS, 1);
    await expect.poll(hours).toBe(1);
    const shelve = { id: "s/1", action: "shelve", warning: "W-0001", text: "x", seen: { version: 1, actions: 0 } };
    const refused = await client.post("/api/act", { ...shelve, until: new Date(nowMs + 2 * HOUR_MS).toISOString() });
    expect(((await refused.json()) as Problem).message).toMatch(/at most 1 hours/);
    const whatIf = await client.post("/api/what-if", { rules: "cautious", fromMs: nowMs - HOUR_MS, toMs: nowMs });
    expect(((await whatIf.json()) as WhatIf).against).toEqual(expect.arrayContaining(["today", "tomorrow"]));
    // One that is opened later, with the old files, finds them in the log.
    const later = await opened(log, () => nowMs + 25 * HOUR_MS);
    expect((await later.client.json<OneWarning>("/api/warning?id=W-0001")).shelveMaxHours).toBe(3);
    expect(later.desk.desk.book.sets.map(({ id }) => id)).toEqual([...BOOK.sets.map(({ id }) => id), "today", "tomorrow"]);
    await later.desk.close();
    await desk.close();
  });

  test("that are none are left out, and stop nobody", async () => {
    const log = emptyLog();
    const { desk } = await opened(log, Date.now);
    await log.append([
      { topic: "passes", key: "k", value: JSON.stringify({ type: "rules", time: "2026-03-04T00:00:00Z", rules: { id: "half" } }) },
    ]);
    await log.append([
      { topic: "passes", key: "k", value: JSON.stringify({ type: "line", time: "2026-03-04T00:00:00Z", line: { sites: [] } }) },
    ]);
    await log.append([{ topic: "warnings", key: "W-0001", value: JSON.stringify(warning()) }]);
    await expect.poll(() => desk.desk.state.board.size).toBe(1);
    expect(desk.desk.book.sets).toHaveLength(BOOK.sets.length);
    await desk.close();
  });
});

describe("a line announced while the desk runs", () => {
  test("is what the pages show from its date on, with its new sites; the past keeps the line of then", async () => {
    const log = emptyLog();
    const startMs = Date.now();
    const { desk, client } = await opened(log, Date.now);
    const heartbeat = (site: string, ms: number) =>
      log.append([
        { topic: "site-reports", key: site, value: JSON.stringify({ type: "heartbeat", site, time: new Date(ms).toISOString() }) },
      ]);
    await heartbeat("alder-14", startMs - 60_000);
    const names = async () => (await client.json<Session>("/api/session")).sites.map(({ site, name }) => [site, name]);
    const old = [...RAILROAD.sites.values()].find(({ id }) => id === "alder-14")!.name;
    expect(await names()).toContainEqual(["alder-14", old]);
    await new Promise((resolve) => setTimeout(resolve, 20));
    const beforeMs = Date.now();
    const contents = changedContents((file) => {
      file.sites.find(({ id }) => id === "alder-14")!.name = "Alder New";
    }, startMs - 30_000);
    await new Promise((resolve) => setTimeout(resolve, 20));
    await log.append([{ topic: "passes", key: RAILROAD.corridors[0]!.id, value: announcement(contents, startMs) }]);
    await heartbeat("alder-14", startMs);
    await expect.poll(names).toContainEqual(["alder-14", "Alder New"]);
    const siteAt = async (at: number) =>
      (await client.json<SitesView>(`/api/sites?at=${at}`)).sites.find(({ site }) => site === "alder-14")!.name;
    expect(await siteAt(Date.now())).toBe("Alder New");
    expect(await siteAt(beforeMs)).toBe(old);
    await desk.close();
  });
});
