import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { mkdirSync, mkdtempSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { connect, createServer, type Server, type Socket } from "node:net";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import type { Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { demoFeed } from "../../src/desk/demo/demo-feed.ts";
import type { Now } from "../../src/desk/views/now-shape.ts";
import type { OneWarning } from "../../src/desk/views/warning-shape.ts";
import { Client } from "../desk/client.ts";
import { DAY, RAILROAD } from "../desk/railroad.ts";
import { goTo, openBrowser, shot, type TestBrowser, visibleText } from "./browser.ts";

/** The real live process with its embedded log: killed, started again, its connection cut. What people see and did must survive it. */

const UNTIL_MS = Date.parse("2026-03-04T07:30:00Z");
let folder: string;
let port: number;
let process_: ChildProcess | undefined;
let browser: TestBrowser | undefined;
let line: Wire | undefined;
let page: Page;

/** A wire between the browser and the server that can be cut. */
class Wire {
  readonly port: number;
  private readonly server: Server;
  private readonly sockets = new Set<Socket>();
  private isCut = false;

  private constructor(server: Server, port: number) {
    this.server = server;
    this.port = port;
  }

  static async to(target: number): Promise<Wire> {
    const server = createServer();
    server.listen(0, "127.0.0.1");
    await once(server, "listening");
    const wire = new Wire(server, (server.address() as { port: number }).port);
    server.on("connection", (near) => wire.join(near, target));
    return wire;
  }

  private join(near: Socket, target: number): void {
    if (this.isCut) {
      near.destroy();
      return;
    }
    const far = connect(target, "127.0.0.1");
    for (const [one, other] of [
      [near, far],
      [far, near],
    ] as const) {
      this.sockets.add(one);
      one.on("error", () => other.destroy());
      one.on("close", () => {
        this.sockets.delete(one);
        other.destroy();
      });
      one.pipe(other);
    }
  }

  cut(): void {
    this.isCut = true;
    for (const socket of this.sockets) socket.destroy();
  }

  mend(): void {
    this.isCut = false;
  }

  async close(): Promise<void> {
    this.cut();
    this.server.close();
    await once(this.server, "close");
  }
}

async function freePort(): Promise<number> {
  const server = createServer();
  server.listen(0, "127.0.0.1");
  await once(server, "listening");
  const { port: free } = server.address() as { port: number };
  server.close();
  await once(server, "close");
  return free;
}

function configuration(): string {
  return JSON.stringify({
    railroad: { line: resolve("replay-data/line.yaml"), rules: resolve("replay-data/rules/standard"), time: "feed" },
    dataFolder: join(folder, "data"),
    feed: { folder: { path: join(folder, "feed"), pollSeconds: 0.1, quietSeconds: 0 } },
    desk: { port, sessions: join(folder, "sessions.json") },
    telemetry: { port: 0, log: { level: "error" } },
  });
}

async function start(): Promise<void> {
  process_ = spawn(
    process.execPath,
    ["--disable-warning=ExperimentalWarning", "src/main.ts", "live", "--config", join(folder, "live.yaml")],
    { stdio: "inherit" },
  );
  await until(isOpen, 60_000);
}

async function isOpen(): Promise<boolean> {
  return fetch(`http://127.0.0.1:${port}/api/session`).then(
    (answer) => answer.ok,
    () => false,
  );
}

/** The desk has heard the end of the day, and nothing changed in its rows for a while. */
async function isFolded(): Promise<boolean> {
  const client = new Client(`http://127.0.0.1:${port}/`);
  await client.signIn("Reader", "view");
  const before = await client.json<Now>("/api/now");
  await new Promise((resolve) => setTimeout(resolve, 1_500));
  const after = await client.json<Now>("/api/now");
  return (after.clock.dataMs ?? 0) > UNTIL_MS - 5 * 60_000 && before.place === after.place;
}

/** Waits for a fact. */
async function until(fact: () => Promise<boolean>, withinMs: number): Promise<void> {
  for (const endMs = Date.now() + withinMs; !(await fact()); ) {
    if (Date.now() > endMs) throw new Error(`not so within ${withinMs} ms: ${fact.name}`);
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
}

async function kill(): Promise<void> {
  process_!.kill("SIGKILL");
  await once(process_!, "exit");
}

async function writeDay(): Promise<void> {
  const lines: string[] = [];
  for await (const due of demoFeed(DAY, RAILROAD.sites.size, 1)) {
    for (const { topic, key, record, dueMs } of due) if (dueMs <= UNTIL_MS) lines.push(JSON.stringify({ topic, key, value: record }));
    if (due.at(-1)!.dueMs > UNTIL_MS) break;
  }
  writeFileSync(join(folder, "day.jsonl"), `${lines.join("\n")}\n`);
  renameSync(join(folder, "day.jsonl"), join(folder, "feed", "day.jsonl"));
}

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "desk-live-"));
  mkdirSync(join(folder, "feed"));
  port = await freePort();
  writeFileSync(join(folder, "live.yaml"), configuration());
  await start();
  await writeDay();
  line = await Wire.to(port);
  browser = await openBrowser(`http://127.0.0.1:${line.port}/`);
  page = await browser.person("Ada", "act");
  // A train with a limit before half past seven: the day is folded as far as is needed.
  await page.locator(".row.limit").first().waitFor({ timeout: 90_000 });
  await until(isFolded, 90_000);
});
afterAll(async () => {
  await browser?.close();
  await line?.close();
  if (process_?.exitCode === null) await kill();
  rmSync(folder, { recursive: true, force: true });
});

async function openLimit(): Promise<string> {
  await goTo(page, "#/now", /decide now/);
  const id = await page.locator(".row.limit.decide").first().getAttribute("data-row");
  await goTo(page, `#/warning/${encodeURIComponent(id!)}`, /Train/);
  return id!;
}

async function actionsOn(id: string): Promise<string[]> {
  const client = new Client(`http://127.0.0.1:${port}/`);
  await client.signIn("Reader", "view");
  await client.json<Now>("/api/now");
  const { actions } = await client.json<OneWarning>(`/api/warning?id=${encodeURIComponent(id)}`);
  return actions.map(({ action }) => `${action.by} ${action.action} ${action.text ?? ""}`.trim());
}

describe("a connection that is cut", () => {
  test("is said at once and large; when it is back nothing was missed", async () => {
    const id = await openLimit();
    await goTo(page, "#/now", /decide now/);
    line!.cut();
    await page.locator(".not-live").waitFor({ timeout: 8_000 });
    expect(await visibleText(page.locator(".not-live strong"))).toMatch(/Not live since \d\d:\d\d:\d\d/);
    // Large: to be read from across the room, over the whole width.
    const size = await page.locator(".not-live strong").evaluate((words) => Number.parseFloat(getComputedStyle(words).fontSize));
    expect(size).toBeGreaterThanOrEqual(24);
    expect((await page.locator(".not-live").boundingBox())!.width).toBe(page.viewportSize()!.width);
    await shot(page, "not-live");
    const ben = new Client(`http://127.0.0.1:${port}/`);
    await ben.signIn("Ben", "act");
    const { row } = await ben.json<OneWarning>(`/api/warning?id=${encodeURIComponent(id)}`);
    const acted = await ben.post("/api/act", {
      id: "ben/1",
      action: "acknowledge",
      warning: id,
      seen: { version: row.version, actions: row.actions },
    });
    line!.mend();
    expect(await acted.text()).toContain("acknowledged");
    expect(acted.status).toBe(200);
    await page.locator(".not-live").waitFor({ state: "detached", timeout: 20_000 });
    await page
      .locator(`[data-row="${id}"]`)
      .getByText(/Ben has it/)
      .waitFor();
  });
});

describe("a server that is killed", () => {
  test("comes back with every action, none twice, and people go on where they were", async () => {
    const id = await openLimit();
    await page.getByRole("button", { name: "Told the crew" }).click();
    await page.locator(".story").getByText("told the crew").waitFor();
    await page.getByRole("button", { name: "Note …" }).click();
    await page.getByLabel("Note", { exact: true }).fill("Written as it died.");
    // The answer never comes: the server takes it down, or not, and dies.
    const sent = page.waitForRequest((request) => request.url().endsWith("/api/act"));
    await page.getByRole("button", { name: "Take down" }).click();
    await sent;
    await kill();
    await page.locator(".not-live").waitFor({ timeout: 10_000 });
    await start();
    await page.locator(".not-live").waitFor({ state: "detached", timeout: 30_000 });
    // Sent again by hand, as the page asks; the same id, so it counts once whether or not it got through before.
    if ((await page.getByRole("button", { name: "Take down" }).count()) > 0) {
      await expect.poll(() => page.getByRole("button", { name: "Take down" }).isEnabled(), { timeout: 15_000 }).toBe(true);
      await page.getByRole("button", { name: "Take down" }).click();
    }
    await page.locator(".story").getByText("Written as it died.").first().waitFor();
    const actions = await actionsOn(id);
    expect(actions.filter((one) => one === "Ada note told the crew")).toHaveLength(1);
    expect(actions.filter((one) => one === "Ada note Written as it died.")).toHaveLength(1);
    await shot(page, "after-kill");
  });
});
