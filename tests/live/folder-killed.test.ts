import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { existsSync, mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { DatabaseSync } from "node:sqlite";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { logFile } from "../../src/log/sqlite/layout.ts";
import type { Warning } from "../../src/warning/warning.ts";
import { until } from "../feed/input/taken.ts";
import { fold, simulated, standing } from "../flow/folded.ts";

const KILLS = 4;
const DAY = { seed: 13, hours: 5, world: "mixed", trainsPerDay: 90 } as const;
/** Records offered at once by a file; as many may be written twice by a kill. */
const BATCH_RECORDS = 2_000;

let folder: string;
let live: ChildProcess | null = null;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "folder-killed-"));
});
afterEach(async () => {
  if (live !== null) await ended("SIGKILL");
  rmSync(folder, { recursive: true, force: true });
});

function start(): void {
  live = spawn(process.execPath, ["src/main.ts", "live", "--config", join(folder, "live.yaml")], { stdio: "ignore" });
}

async function ended(signal: NodeJS.Signals): Promise<void> {
  const child = live!;
  live = null;
  const closed = once(child, "close");
  child.kill(signal);
  await closed;
}

/** Rows of the log's file, read beside whoever has it open; none while it is being made. */
function rows<T>(sql: string): T[] {
  if (!existsSync(logFile(join(folder, "data")))) return [];
  const db = new DatabaseSync(logFile(join(folder, "data")), { readOnly: true, timeout: 5_000 });
  try {
    return db.prepare(sql).all() as T[];
  } catch {
    return [];
  } finally {
    db.close();
  }
}

const taken = () =>
  rows<{ n: number }>("SELECT sum(next) AS n FROM partition WHERE topic IN ('axle-readings', 'site-reports', 'consists')")[0]?.n ?? 0;
const isFolded = () =>
  rows("SELECT 1 FROM standing LIMIT 1").length > 0 &&
  rows("SELECT 1 FROM standing JOIN partition USING (topic, partition) WHERE position < next").length === 0;

describe("a process killed while it takes a file of the watched folder", () => {
  it("goes on where it stopped: nothing is lost, and what is written twice changes no warning", { timeout: 300_000 }, async () => {
    const { feed } = simulated(DAY);
    const lines = [...new Set(feed.map(({ topic, key, json }) => `{"topic":"${topic}","key":"${key}","value":${json}}\n`))];
    const config = [
      `railroad: { line: ${resolve("replay-data/line.yaml")}, rules: ${resolve("replay-data/rules/standard")}, time: feed }`,
      "dataFolder: data",
      "feed: { folder: { path: in, quietSeconds: 0, pollSeconds: 0.05 } }",
      "telemetry: { port: 0 }",
    ];
    writeFileSync(join(folder, "live.yaml"), config.join("\n"));
    mkdirSync(join(folder, "in"));
    writeFileSync(join(folder, "in", "day.jsonl"), lines.join(""));
    for (let kill = 1; kill <= KILLS; kill++) {
      start();
      const wanted = (lines.length * kill) / (KILLS + 1);
      await until(() => taken() >= wanted);
      await ended("SIGKILL");
    }
    expect(existsSync(join(folder, "in", "done", "day.jsonl"))).toBe(false);
    start();
    await until(() => existsSync(join(folder, "in", "done", "day.jsonl")) && isFolded());
    const written = rows<{ value: Uint8Array }>(
      "SELECT value FROM record WHERE topic IN ('axle-readings', 'site-reports', 'consists')",
    ).map(({ value }) => Buffer.from(value).toString());
    expect(new Set(written)).toEqual(new Set(feed.map(({ json }) => json)));
    expect(written.length).toBeLessThanOrEqual(lines.length + KILLS * BATCH_RECORDS);
    const warnings = rows<{ value: Uint8Array }>("SELECT value FROM record WHERE topic = 'warnings' ORDER BY offset").map(
      ({ value }) => JSON.parse(Buffer.from(value).toString()) as Warning,
    );
    expect(standing(warnings).length).toBeGreaterThan(3);
    expect(standing(warnings)).toEqual(standing(fold(feed).warnings));
    expect(readdirSync(join(folder, "in")).filter((name) => name.endsWith(".progress"))).toEqual([]);
    await ended("SIGTERM");
  });
});
