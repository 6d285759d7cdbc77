import { createHash } from "node:crypto";
import { closeSync, existsSync, fsyncSync, mkdirSync, mkdtempSync, openSync, renameSync, rmSync, writeFileSync, writeSync } from "node:fs";
import { Agent, request } from "node:http";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { folderFeedConfig, startFolderFeed } from "../../src/feed/input/folder-feed.ts";
import { httpFeedConfig, startHttpFeed } from "../../src/feed/input/http-feed.ts";
import { openSqliteLog } from "../../src/log/sqlite/sqlite-log.ts";
import { partitionsOf } from "../../src/log/topics.ts";
import { silentLogger } from "../../src/telemetry/logger.ts";
import { createMetrics } from "../../src/telemetry/metrics.ts";
import { feedText } from "./decode.bench.ts";
import type { BenchFigure } from "./figure.ts";

/**
 * Durable axles a second into the embedded log: through `POST /feed`, and from a file of the watched folder. The yardstick is
 * the same bytes written to a plain file with an fsync for each batch: as fast as anything durable can be here.
 */

const AXLES = 640_000;
const AXLES_ONE_BY_ONE = 96_000;
/** Records a request. */
const BATCH_RECORDS = 500;
/** Senders at once; each sends its next request when the one before is answered. */
const SENDERS = 8;
const TOKEN = "YmVuY2gtdG9rZW4tZm9yLXRoZS1mZWVk";

export async function feedBench(): Promise<BenchFigure[]> {
  const figures: BenchFigure[] = [];
  for (const [group, axles] of [
    [32, AXLES],
    [1, AXLES_ONE_BY_ONE],
  ] as const) {
    const text = feedText(axles, group);
    const base = axles / plainSeconds(text);
    figures.push(figureOf(`POST /feed, ${SENDERS} senders, groups of ${group}`, axles / (await throughHttp(text)), base));
    figures.push(figureOf(`watched folder, groups of ${group}`, axles / (await throughFolder(text)), base));
  }
  return figures;
}

function figureOf(name: string, ours: number, base: number): BenchFigure {
  return {
    name,
    ours,
    base,
    ratio: ours / base,
    unit: "axles/s",
    note: "durable in SQLite, against the same bytes to a plain file, an fsync a batch",
  };
}

/** Lines in batches, as requests hold them. */
function batches(text: string): string[] {
  const lines = text.split("\n").slice(0, -1);
  const out: string[] = [];
  for (let from = 0; from < lines.length; from += BATCH_RECORDS) out.push(lines.slice(from, from + BATCH_RECORDS).join("\n"));
  return out;
}

function plainSeconds(text: string): number {
  const folder = mkdtempSync(join(tmpdir(), "feed-bench-"));
  const parts = batches(text);
  const begun = performance.now();
  const file = openSync(join(folder, "plain"), "w");
  for (const part of parts) {
    writeSync(file, part);
    fsyncSync(file);
  }
  closeSync(file);
  const seconds = (performance.now() - begun) / 1_000;
  rmSync(folder, { recursive: true });
  return seconds;
}

async function withLog<T>(run: (log: Awaited<ReturnType<typeof openSqliteLog>>, folder: string) => Promise<T>): Promise<T> {
  const folder = mkdtempSync(join(tmpdir(), "feed-bench-"));
  const log = await openSqliteLog({ folder: join(folder, "data"), partitions: partitionsOf() });
  try {
    return await run(log, folder);
  } finally {
    await log.close();
    rmSync(folder, { recursive: true });
  }
}

const parts = () => ({ logger: silentLogger(), metrics: createMetrics({ version: "bench", nodeDefaults: false }).feed("bench") });

/** Seconds until the last request is answered. */
function throughHttp(text: string): Promise<number> {
  return withLog(async (log) => {
    const config = httpFeedConfig.parse({ port: 0, tokens: [{ name: "bench", sha256: createHash("sha256").update(TOKEN).digest("hex") }] });
    const http = await startHttpFeed({ config, log, ...parts() });
    const agent = new Agent({ keepAlive: true, maxSockets: SENDERS });
    const bodies = batches(text);
    const begun = performance.now();
    const sender = async () => {
      for (let body = bodies.shift(); body !== undefined; body = bodies.shift()) while ((await post(http.url, agent, body)) === 429);
    };
    await Promise.all(Array.from({ length: SENDERS }, sender));
    const seconds = (performance.now() - begun) / 1_000;
    agent.destroy();
    await http.close();
    return seconds;
  });
}

function post(url: string, agent: Agent, body: string): Promise<number> {
  return new Promise((resolve, reject) => {
    const headers = { authorization: `Bearer ${TOKEN}`, "content-type": "application/x-ndjson" };
    const sent = request(`${url}/feed`, { method: "POST", agent, headers }, (response) => {
      response.resume();
      response.on("end", () => {
        const status = response.statusCode ?? 0;
        if (status === 200 || status === 429) resolve(status);
        else reject(new Error(`answered ${status}`));
      });
    });
    sent.on("error", reject).end(body);
  });
}

/** Seconds until the file is done. */
function throughFolder(text: string): Promise<number> {
  return withLog(async (log, folder) => {
    const path = join(folder, "in");
    mkdirSync(path);
    writeFileSync(join(folder, "day"), text);
    renameSync(join(folder, "day"), join(path, "day"));
    const config = folderFeedConfig.parse({ path, quietSeconds: 0, pollSeconds: 0.05 });
    const begun = performance.now();
    const feed = startFolderFeed({ config, log, ...parts() });
    while (!existsSync(join(path, "done", "day"))) await new Promise((resolve) => setTimeout(resolve, 2));
    const seconds = (performance.now() - begun) / 1_000;
    await feed.close();
    return seconds;
  });
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? "").href) console.table(await feedBench());
