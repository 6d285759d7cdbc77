import { type ChildProcess, spawn, spawnSync } from "node:child_process";
import { once } from "node:events";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createServer } from "node:net";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { createInterface } from "node:readline";
import { afterEach, beforeEach, describe, expect, it } from "vitest";

let folder = "";
let started: ChildProcess[] = [];

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "bearing-rise-launcher-"));
});
afterEach(() => {
  for (const child of started) child.kill("SIGKILL");
  started = [];
  rmSync(folder, { recursive: true, force: true });
});

function configured(more: object = {}): string {
  const file = join(folder, "live.yaml");
  const config = {
    railroad: { line: resolve("replay-data/line.yaml"), rules: resolve("replay-data/rules/standard") },
    dataFolder: "data",
    telemetry: { port: 0 },
    ...more,
  };
  writeFileSync(file, JSON.stringify(config));
  return file;
}

/** Ready when everything runs; `pid` is the real process, not the launcher's. */
async function live(config: string): Promise<{ launcher: ChildProcess; pid: number; ended: Promise<unknown[]> }> {
  const launcher = spawn(process.execPath, ["src/bearing-rise.js", "live", "--config", config], { stdio: ["ignore", "inherit", "pipe"] });
  started.push(launcher);
  const ended = once(launcher, "exit");
  for await (const text of createInterface(launcher.stderr)) {
    const { event } = JSON.parse(text) as { event: string };
    if (event === "process-ready") return { launcher, pid: childOf(launcher.pid!), ended };
  }
  throw new Error("it ended before it was ready");
}

/** The only child of a process, as Linux tells it. */
function childOf(pid: number): number {
  return Number(readFileSync(`/proc/${pid}/task/${pid}/children`, "utf8"));
}

/** Resolves when no process has that number any more. */
async function gone(pid: number): Promise<void> {
  for (;;) {
    try {
      process.kill(pid, 0);
    } catch {
      return;
    }
    await new Promise((resolve) => setImmediate(resolve));
  }
}

function run(...args: string[]) {
  const { status, stderr } = spawnSync(process.execPath, ["src/bearing-rise.js", ...args], { encoding: "utf8" });
  return { status, stderr };
}

describe("the launcher", { timeout: 60_000 }, () => {
  it("killed with -9, it takes the real process with it, and the data folder is free again", async () => {
    const config = configured();
    const { launcher, pid } = await live(config);
    launcher.kill("SIGKILL");
    await gone(pid);
    const again = await live(config);
    again.launcher.kill("SIGTERM");
    expect(await again.ended).toEqual([0, null]);
  });

  it("told by a terminal, which tells both processes, it ends cleanly all the same", async () => {
    const { launcher, pid, ended } = await live(configured());
    // The real process hears it from the terminal and once more from the launcher.
    process.kill(pid, "SIGINT");
    launcher.kill("SIGINT");
    process.kill(pid, "SIGINT");
    expect(await ended).toEqual([0, null]);
  });

  it("ends with 128 and the signal that ended the real process", async () => {
    const { pid, ended } = await live(configured());
    process.kill(pid, "SIGKILL");
    expect(await ended).toEqual([137, null]);
  });
});

describe("what an operator can mend is said as such", { timeout: 60_000 }, () => {
  it("a data folder that cannot be made", () => {
    writeFileSync(join(folder, "taken"), "");
    const { status, stderr } = run("live", "--config", configured({ dataFolder: "taken/data" }));
    expect(stderr).toMatch(/dataFolder .*taken\/data cannot be made or written: ENOTDIR.* Name another/);
    expect(status).toBe(6);
  });

  it("ports that are taken, each with its key", async () => {
    const server = createServer();
    server.listen(0, "127.0.0.1");
    await once(server, "listening");
    const { port } = server.address() as { port: number };
    const sha256 = "0".repeat(64);
    const wanted = {
      telemetry: { telemetry: { port } },
      "feed.http": { feed: { http: { port, tokens: [{ name: "north", sha256 }] } } },
      desk: { desk: { port } },
    };
    for (const [key, more] of Object.entries(wanted)) {
      const { status, stderr } = run("live", "--config", configured(more));
      expect(stderr).toContain(`${key} cannot listen on 127.0.0.1:${port}: another program has it`);
      expect(stderr).toContain(`${key}.port`);
      expect(status).toBe(7);
    }
    server.close();
  });

  it("a desk that may not be opened, before anything runs", () => {
    const { status, stderr } = run("live", "--config", configured({ desk: { host: "0.0.0.0" }, dataFolder: "never" }));
    expect(stderr).toContain("DESK-001");
    expect(status).toBe(3);
  });

  it("a cluster of which no broker answers", () => {
    const { status, stderr } = run("live", "--config", configured({ log: { kafka: { brokers: ["127.0.0.1:1"] } } }));
    expect(stderr).toMatch(/the cluster at 127\.0\.0\.1:1 did not say .*Are these brokers running/);
    expect(status).toBe(7);
  });

  it("send: an address or a token that cannot be", () => {
    const to = "http://127.0.0.1:1/feed";
    expect(run("send", "--to", "nowhere", "--token", "env:HOME", "x.jsonl")).toMatchObject({
      status: 2,
      stderr: expect.stringContaining("--to nowhere"),
    });
    expect(run("send", "--to", to, "--token", "env:NO_SUCH_NAME", "x.jsonl")).toMatchObject({
      status: 2,
      stderr: expect.stringContaining("env:NO_SUCH_NAME"),
    });
    expect(run("send", "--to", to, "--token", "env:HOME", "no.jsonl")).toMatchObject({
      status: 4,
      stderr: expect.stringContaining("FEED-101"),
    });
  });
});
