import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { DatabaseSync } from "node:sqlite";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { logFile } from "../../src/log/sqlite/layout.ts";
import type { Warning } from "../../src/warning/warning.ts";
import { malformed } from "../feed/input/malformed.ts";
import { until } from "../feed/input/taken.ts";
import { fold, simulated, standing } from "../flow/folded.ts";

/** Lines among the good ones that cannot be used. */
const MALFORMED = 10_000;

const LINE = resolve("replay-data/line.yaml");
const DAY = { seed: 13, hours: 5, world: "mixed", trainsPerDay: 90 } as const;
const RULES = resolve("replay-data/rules/standard");

let folder: string;
let live: ChildProcess;

function start(...words: string[]): ChildProcess {
  return spawn(process.execPath, ["src/main.ts", ...words], { stdio: ["pipe", "pipe", "pipe"] });
}

/** What a command prints, once it has ended with the status wanted. */
async function told(status: number, ...words: string[]): Promise<string> {
  const child = start(...words);
  let out = "";
  for (const stream of [child.stdout!, child.stderr!]) stream.setEncoding("utf8").on("data", (text: string) => (out += text));
  const [code] = (await once(child, "close")) as [number];
  expect([code, out]).toEqual([status, out]);
  return out;
}

/** Rows of the embedded log's file, read beside the process that writes it. */
function rows<T>(sql: string): T[] {
  if (!existsSync(logFile(join(folder, "data")))) return [];
  const db = new DatabaseSync(logFile(join(folder, "data")), { readOnly: true, timeout: 5_000 });
  try {
    return db.prepare(sql).all() as T[];
  } finally {
    db.close();
  }
}

/** The file is there before its tables are. */
function isMade(): boolean {
  try {
    return rows("SELECT 1 FROM sqlite_master WHERE name = 'standing'").length > 0;
  } catch {
    return false;
  }
}

/** Whether every stage has folded all that is in its input, and that is all that was fed. */
function isFolded(records: number): boolean {
  if (!isMade()) return false;
  const [taken] = rows<{ n: number }>(`
    SELECT (SELECT sum(next) FROM partition WHERE topic IN ('axle-readings', 'site-reports', 'consists', 'desk-actions'))
         + (SELECT count(*) FROM record WHERE topic = 'rejected' AND key = 'feed-stdin') AS n`);
  const behind = rows("SELECT 1 FROM standing JOIN partition USING (topic, partition) WHERE position < next");
  return taken?.n === records && behind.length === 0;
}

describe("a day on the embedded log, recorded while the process runs", () => {
  let published: Warning[];

  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), "record-command-"));
    const config = [
      `railroad: { line: ${LINE}, rules: ${RULES}, time: feed }`,
      "dataFolder: data",
      "feed: { stdin: true }",
      "telemetry: { port: 0 }",
    ];
    writeFileSync(join(folder, "live.yaml"), config.join("\n"));
    const { feed } = simulated(DAY);
    const lines = [...new Set(feed.map(({ topic, key, json }) => `{"topic":"${topic}","key":"${key}","value":${json}}\n`))];
    const good = lines.length;
    const bad = malformed();
    for (let i = 0; i < MALFORMED; i++) lines.splice((i * 7_919) % lines.length, 0, `${bad.next().value as string}\n`);
    live = start("live", "--config", join(folder, "live.yaml"));
    live.stdin!.end(lines.join(""));
    await until(() => isFolded(good + MALFORMED));
    published = rows<{ value: Uint8Array }>("SELECT value FROM record WHERE topic = 'warnings' ORDER BY offset").map(
      ({ value }) => JSON.parse(Buffer.from(value).toString()) as Warning,
    );
    await told(0, "record", "--config", join(folder, "live.yaml"), "--out", join(folder, "day.jsonl.zst"));
  }, 300_000);
  afterAll(async () => {
    live.kill("SIGTERM");
    await once(live, "close");
    rmSync(folder, { recursive: true, force: true });
  });

  async function replayed(...options: string[]): Promise<Warning[]> {
    const out = join(folder, "out");
    await told(0, "replay", "--line", LINE, "--rules", RULES, "--out", out, "--quiet", ...options, join(folder, "day.jsonl.zst"));
    const text = readFileSync(join(out, "warnings.jsonl"), "utf8");
    return text
      .split("\n")
      .slice(0, -1)
      .map((line) => JSON.parse(line) as Warning);
  }

  const rejected = () =>
    rows<{ value: Uint8Array }>("SELECT value FROM record WHERE topic = 'rejected'").map(
      ({ value }) => JSON.parse(Buffer.from(value).toString()) as { id: string; topic: string },
    );
  const sorted = (warnings: readonly Warning[]) => warnings.map((warning) => JSON.stringify(warning)).sort();

  it("replays in the recorded order to every version that was published", async () => {
    expect(published.length).toBeGreaterThan(3);
    expect(sorted(await replayed("--recorded-order"))).toEqual(sorted(published));
  });

  it("replays from its readings to the warnings that stood in the end", async () => {
    expect(standing(await replayed())).toEqual(standing(published));
  });

  it("was not changed by the malformed lines in it: all of them are on `rejected`, and the warnings are those of the good ones", () => {
    expect(rejected()).toHaveLength(MALFORMED);
    expect(standing(published)).toEqual(standing(fold(simulated(DAY).feed).warnings));
  });

  it("holds those of them that went into their topics, and a replay refuses each under the same id", async () => {
    await replayed();
    const again = readFileSync(join(folder, "out", "rejected.jsonl"), "utf8")
      .split("\n")
      .slice(0, -1);
    const ids = again.map((line) => (JSON.parse(line) as { id: string }).id).sort();
    const inTopics = rejected().filter(({ topic }) => topic !== "feed-stdin");
    expect(inTopics.length).toBeGreaterThan(MALFORMED / 4);
    expect(ids).toEqual(inTopics.map(({ id }) => id).sort());
  });

  it("the sites of the running process stand as at the end of what it took in", async () => {
    const of = async (...words: string[]) =>
      JSON.parse(await told(0, "sites", "--json", ...words)) as { time: string; sites: { state: string }[] };
    const running = await of("--config", join(folder, "live.yaml"));
    expect(running.sites.filter(({ state }) => state !== "unheard").length).toBeGreaterThan(10);
    expect(running).toEqual(await of("--line", LINE, "--rules", RULES, join(folder, "day.jsonl.zst")));
    await told(2, "sites", "--config", join(folder, "live.yaml"), join(folder, "day.jsonl.zst"));
    await told(2, "sites", "--line", LINE);
  });

  it("is checked like any feed file", async () => {
    expect(await told(0, "check", LINE, RULES, join(folder, "day.jsonl.zst"))).toMatch(/records?: [\d,]+ readable, [\d,]+ rejected/);
  });

  it("of a time in which nothing came is empty, and the command says so", async () => {
    const out = join(folder, "empty.jsonl");
    const text = await told(0, "record", "--config", join(folder, "live.yaml"), "--to", "1999-01-01", "--out", out);
    expect(text).toContain("Nothing came in that time");
    expect(readFileSync(out, "utf8")).toBe("");
  });

  it.each([
    [2, ["--from", "2026-03-05", "--to", "2026-03-04"], "is not before"],
    [2, ["--from", "yesterday"], "NARROW-001"],
    [6, [], "OUT-003"],
  ])("ends with status %i and words for %o", async (status, options, words) => {
    const out = status === 6 ? join(folder, "no", "such", "folder.jsonl") : join(folder, "x.jsonl");
    expect(await told(status, "record", "--config", join(folder, "live.yaml"), "--out", out, ...options)).toContain(words);
  });
});
