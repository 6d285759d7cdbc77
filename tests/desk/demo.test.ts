import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { type AddressInfo, createServer } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { text } from "node:stream/consumers";
import { afterAll, beforeAll, describe, expect, test, vi } from "vitest";
import { Board } from "../../src/desk/board/board.ts";
import { paceWords } from "../../src/desk/demo/demo-desk.ts";
import { demoFeed } from "../../src/desk/demo/demo-feed.ts";
import { nightShift } from "../../src/desk/demo/night-shift.ts";
import type { Now } from "../../src/desk/views/now-shape.ts";
import type { Session } from "../../src/desk/views/session-shape.ts";
import { Client } from "./client.ts";
import { BOOK, DAY, RAILROAD } from "./railroad.ts";
import { MINUTE_MS, START_MS, warning } from "./samples.ts";

/** `bearing-rise demo` as a user starts it: a process of its own on the first hour of the recorded day, at a fast pace. */

const FROM = "2026-03-04T00:25:00Z";
const UNTIL_MS = Date.parse("2026-03-04T01:10:00Z");
const SPEED = 120;

let folder: string;
let child: ChildProcess;
let said = "";
let client: Client;

async function writeStretch(path: string): Promise<void> {
  const lines: string[] = [];
  for await (const due of demoFeed(DAY, RAILROAD.sites.size, 1)) {
    for (const { topic, key, record, dueMs } of due) if (dueMs <= UNTIL_MS) lines.push(JSON.stringify({ topic, key, value: record }));
    if (due.at(-1)!.dueMs > UNTIL_MS) break;
  }
  writeFileSync(path, `${lines.join("\n")}\n`);
}

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "bearing-rise-demo-test-"));
  mkdirSync(join(folder, "tmp"));
  const feed = join(folder, "hour.jsonl");
  await writeStretch(feed);
  const files = ["--line", "replay-data/line.yaml", "--rules", "replay-data/rules/standard", "--other-rules", "replay-data/rules/cautious"];
  const pace = ["--port", "0", "--speed", String(SPEED), "--from", FROM];
  // In a group of its own: a terminal sends Ctrl-C to all of them, the first and what it started.
  child = spawn(process.execPath, ["src/bearing-rise.js", "demo", ...files, ...pace, feed], {
    detached: true,
    stdio: ["ignore", "pipe", "pipe"],
    env: { ...process.env, TMPDIR: join(folder, "tmp") },
  });
  child.stdout!.on("data", (some: Buffer) => (said += some.toString()));
  child.stderr!.on("data", (some: Buffer) => (said += some.toString()));
  await vi.waitFor(() => expect(said).toMatch(/The desk is open: http:\S+/), { timeout: 100_000, interval: 100 });
  client = new Client(/open: (http:\S+)/.exec(said)![1]!);
  expect((await client.signIn("Ada", "act")).status).toBe(200);
});
afterAll(() => {
  if (child.exitCode === null && child.signalCode === null) process.kill(-child.pid!, "SIGKILL");
  rmSync(folder, { recursive: true, force: true });
});

describe("the demonstration", () => {
  test("says what it is, where the page is and how it ends, and its page answers", async () => {
    expect(said).toMatch(/A demonstration on an invented railroad, 120 times faster than the clock\. Stop it with Ctrl-C\./);
    const page = await client.get("/");
    expect(page.status).toBe(200);
    expect(await page.text()).toContain("<script");
  });

  test("is marked as one wherever its data stand, and its time runs faster", async () => {
    const { demonstration, railroad, clock } = await client.json<Session>("/api/session");
    expect(demonstration).toMatch(/Demonstration.*No real train, no real warning/);
    expect(railroad.demonstration).toBe(true);
    expect(clock.speed).toBe(SPEED);
    expect(clock.nowMs).toBeGreaterThanOrEqual(Date.parse(FROM));
  });

  test("warnings appear as its day goes on, and can be acted on and looked back from", async () => {
    const rows = async () => (await client.json<Now>("/api/now?closed=true")).rows;
    await expect.poll(async () => (await rows()).length, { timeout: 60_000, interval: 200 }).toBeGreaterThan(0);
    const row = (await rows())[0]!;
    expect(row.raisedMs).toBeGreaterThan(Date.parse(FROM));
    const note = { id: "demo/1", action: "note", warning: row.id, text: "seen" };
    expect((await client.post("/api/act", note)).status).toBe(200);
    const before = await client.json<Now>(`/api/now?closed=true&at=${row.raisedMs - 5 * MINUTE_MS}`);
    expect(before.rows.map(({ id }) => id)).not.toContain(row.id);
  });

  test("ends cleanly at Ctrl-C and leaves nothing behind", async () => {
    const exit = once(child, "exit");
    process.kill(-child.pid!, "SIGINT");
    expect(await exit).toEqual([0, null]);
    expect(readdirSync(join(folder, "tmp"))).toEqual([]);
    // Levels of log lines, and what Node or a program that fails writes.
    expect(said).not.toMatch(/"level":\s*"(?:warn|error|fatal)"|\b(?:\w*Error|Warning):|A fault of ours/);
  });
});

test("the demonstration says at which pace it runs, also when it is the clock's own", () => {
  expect(paceWords(1)).toBe("at the pace of the clock");
  expect(paceWords(60)).toBe("60 times faster than the clock");
});

describe("a port that is taken", () => {
  test("is told before the day is folded, and help names no default that is none", async () => {
    const taken = createServer().listen(0, "127.0.0.1");
    await once(taken, "listening");
    const { port } = taken.address() as AddressInfo;
    const files = ["--line", "replay-data/line.yaml", "--rules", "replay-data/rules/standard", "--port", String(port)];
    const { status, stdout, stderr } = await ran(["demo", ...files, DAY]);
    taken.close();
    expect([status, stdout]).toEqual([7, ""]);
    expect(stderr).toContain(`desk cannot listen on 127.0.0.1:${port}`);
    expect(stderr).toContain("npm start -- --port 0");
    expect((await ran(["demo", "--help"])).stdout).not.toContain('default: ""');
  });
});

async function ran(args: string[]): Promise<{ status: number | null; stdout: string; stderr: string }> {
  const command = spawn(process.execPath, ["src/bearing-rise.js", ...args], { stdio: ["ignore", "pipe", "pipe"] });
  const [stdout, stderr] = [text(command.stdout), text(command.stderr)];
  const [status] = (await once(command, "close")) as [number | null];
  return { status, stdout: await stdout, stderr: await stderr };
}

describe("the shift before", () => {
  test("answered what came in time, told the crew, had it inspected, and left the last hour to the next one", () => {
    const board = new Board(BOOK);
    board.warning(warning({ id: "W-old" }), START_MS);
    board.warning(warning({ id: "W-limit", level: "limit" }), START_MS);
    board.warning(warning({ id: "W-new", time: new Date(START_MS + 4 * 60 * MINUTE_MS).toISOString() }), START_MS);
    board.warning(warning({ id: "W-watch", level: "watch" }), START_MS);
    const actions = nightShift(board, START_MS + 4.5 * 60 * MINUTE_MS);
    expect(actions.filter((one) => one.warning === "W-old").map(({ action, found }) => [action, found])).toEqual([
      ["acknowledge", undefined],
      ["note", undefined],
      ["found", "nothing-found"],
    ]);
    expect(actions.find((one) => one.warning === "W-limit" && one.action === "found")!.found).toBe("defect-confirmed");
    expect(actions.some((one) => one.warning === "W-new" || one.warning === "W-watch")).toBe(false);
    for (const one of actions) board.action(one, START_MS);
    expect(board.row("W-old")!.state).toBe("cleared");
    expect(board.row("W-limit")!.state).toBe("out-of-service");
  });
});
