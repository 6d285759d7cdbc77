import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, describe, expect, it } from "vitest";
import type { Log } from "../../src/log/log.ts";
import { openForReading } from "../../src/log/sqlite/layout.ts";
import { openSqliteLog } from "../../src/log/sqlite/sqlite-log.ts";
import { INBOUND, partitionsOf } from "../../src/log/topics.ts";
import { Random } from "../../src/simulate/random.ts";
import { demoRailroad, simulated } from "../flow/folded.ts";
import { readAll, text, waitFor } from "../log/contract.ts";
import { check } from "./checker.ts";
import { Embedded } from "./embedded.ts";
import { SmallDisk } from "./small-disk.ts";

/** In CI; `KILLS=1000 vitest run tests/chaos/embedded` for longer. */
const KILLS = Number(process.env["KILLS"] ?? 50);
const SEED = Number(process.env["SEED"] ?? 1);
const RECORDS_A_REQUEST = 12;
const PATIENCE_MS = 60_000;
/** Holds the log's first pages and some requests. */
const SMALL_DISK_MB = 2;
/** After it takes records a process lives this long at most; sometimes it is killed before. */
const LONGEST_LIFE_MS = 400;

const folders: string[] = [];
const running: Embedded[] = [];

async function embedded(settings: Omit<Parameters<typeof Embedded.make>[0], "folder"> = {}, folder = freshFolder()): Promise<Embedded> {
  const made = await Embedded.make({ folder, ...settings });
  running.push(made);
  return made;
}

function freshFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), "rise-chaos-"));
  folders.push(folder);
  return folder;
}

afterEach(async () => {
  for (const one of running.splice(0)) await one.end("SIGKILL");
  for (const folder of folders.splice(0)) rmSync(folder, { recursive: true, force: true });
});

/** Requests of a morning's feed. */
function requests(hours: number): string[] {
  const { feed } = simulated({ seed: 31, hours, world: "mixed", trainsPerDay: 60, group: 32 }, demoRailroad());
  const lines = feed
    .filter(({ topic }) => topic !== "desk-actions")
    .map(({ topic, key, json }) => `{"topic":"${topic}","key":"${key}","value":${json}}`);
  const made: string[] = [];
  for (let at = 0; at < lines.length; at += RECORDS_A_REQUEST) made.push(lines.slice(at, at + RECORDS_A_REQUEST).join("\n"));
  return made;
}

async function openLog(dataFolder: string): Promise<Log> {
  return await openSqliteLog({ folder: dataFolder, partitions: partitionsOf() });
}

/** Starts what was left, lets it come to its end, stops it cleanly. */
async function settle(process: Embedded): Promise<void> {
  if (!process.isRunning) process.start();
  await process.ready();
  await waitFor(() => isAllFolded(process.dataFolder), PATIENCE_MS);
  expect(await process.end("SIGTERM")).toBe(0);
}

/** Whether every input partition is folded and committed to its end. */
function isAllFolded(dataFolder: string): boolean {
  const db = openForReading(dataFolder);
  const behind = db
    .prepare(
      `SELECT count(*) AS behind FROM partition p LEFT JOIN standing s ON s.topic = p.topic AND s.partition = p.partition
       WHERE p.topic IN ('axle-readings', 'site-reports', 'consists', 'desk-actions', 'passes') AND coalesce(s.position, 0) < p.next`,
    )
    .get() as { behind: number };
  db.close();
  return behind.behind === 0;
}

/** Every value in the inbound topics. */
async function inbound(log: Log): Promise<Set<string>> {
  const values = new Set<string>();
  for (const topic of INBOUND) {
    const records = (await log.extent(topic)).reduce((sum, { from, end }) => sum + end - from, 0);
    for (const record of await readAll(log, topic, (fact) => waitFor(fact, PATIENCE_MS), records)) values.add(text(record));
  }
  return values;
}

describe("one process with the embedded log", { timeout: 900_000 }, () => {
  it(`killed ${KILLS} times at any moment loses nothing it answered for, and says everything once`, async () => {
    const random = new Random(SEED, "kills");
    const process = await embedded();
    const all = requests(4);
    const answered: string[] = [];
    let kills = 0;
    let at = 0;
    let isOver = false;
    const sender = (async () => {
      while (!isOver) {
        const request = all[at % all.length]!;
        // A request without an answer is sent again, until there is one.
        if ((await process.post(request)) === 200) {
          answered.push(request);
          at++;
        }
        await new Promise((done) => setTimeout(done, 5));
      }
    })();
    while (kills < KILLS) {
      process.start();
      if (random.chance(0.8)) await process.ready();
      await new Promise((done) => setTimeout(done, random.between(0, LONGEST_LIFE_MS)));
      await process.end("SIGKILL");
      kills++;
    }
    process.start();
    await process.ready();
    await waitFor(() => at >= all.length, PATIENCE_MS * 5);
    isOver = true;
    await sender;
    await process.end("SIGKILL");
    await settle(process);

    const log = await openLog(process.dataFolder);
    const values = await inbound(log);
    const lost = answered.flatMap((request) => request.split("\n")).filter((line) => !values.has(valueIn(line)));
    expect(lost.slice(0, 3)).toEqual([]);
    const verdict = await check(log);
    await log.close();
    expect(verdict.wrong).toEqual([]);
    expect(verdict.warnings).toBeGreaterThan(0);
    expect(verdict.passes).toBeGreaterThan(50);
  });

  it("ends within three seconds of being asked, whatever it is doing", async () => {
    const process = await embedded();
    process.start();
    await process.ready();
    const all = requests(2);
    const posting = Promise.all(all.slice(0, 40).map((request) => process.post(request)));
    await waitFor(() => process.events.some((event) => event === "task-running"), PATIENCE_MS);
    const beganMs = performance.now();
    expect(await process.end("SIGTERM")).toBe(0);
    expect(performance.now() - beganMs).toBeLessThan(3_000);
    await posting;
    expect(process.events.at(-1)).toBe("process-stopped");
  });

  it("without room on the disk tells the sender so and stays; with room again it has all that it answered for", async () => {
    const folder = freshFolder();
    const small = await embedded({ mostGigabytes: 0.002 }, folder);
    small.start();
    await small.ready();
    const answered: string[] = [];
    const statuses = new Set<number | null>();
    for (const request of requests(3)) {
      const status = await small.post(request);
      statuses.add(status);
      if (status === 200) answered.push(request);
    }
    expect(statuses).toEqual(new Set([200, 503]));
    expect(small.isRunning).toBe(true);
    await small.end("SIGTERM");

    const roomy = await embedded({}, folder);
    roomy.start();
    await roomy.ready();
    for (const request of requests(3)) expect(await roomy.post(request)).toBe(200);
    await roomy.end("SIGTERM");
    await settle(roomy);
    const log = await openLog(roomy.dataFolder);
    const values = await inbound(log);
    expect(answered.flatMap((request) => request.split("\n")).filter((line) => !values.has(valueIn(line)))).toEqual([]);
    const verdict = await check(log);
    await log.close();
    expect(verdict.wrong).toEqual([]);
    expect(verdict.passes).toBeGreaterThan(0);
  });

  it("on a disk that is full it refuses, stays, and goes on by itself once there is room, with all that it answered for", async (context) => {
    const folder = freshFolder();
    const disk = SmallDisk.mount(join(folder, "data"), SMALL_DISK_MB);
    if (disk === null) {
      if (process.env["CI"] === "true") throw new Error("no file system can be mounted here, and this must be tested in CI");
      return context.skip("this user may not mount a file system");
    }
    try {
      const one = await embedded({}, folder);
      one.start();
      await one.ready();
      const answered: string[] = [];
      const statuses = new Set<number | null>();
      for (const request of requests(3)) {
        const status = await one.post(request);
        statuses.add(status);
        if (status === 200) answered.push(request);
      }
      expect(statuses).toEqual(new Set([200, 503]));
      expect(one.isRunning).toBe(true);

      disk.grow(512);
      for (const request of requests(3)) await waitFor(async () => (await one.post(request)) === 200, PATIENCE_MS);
      await settle(one);
      const log = await openLog(one.dataFolder);
      const values = await inbound(log);
      expect(answered.flatMap((request) => request.split("\n")).filter((line) => !values.has(valueIn(line)))).toEqual([]);
      const verdict = await check(log);
      await log.close();
      expect(verdict.wrong).toEqual([]);
      expect(verdict.passes).toBeGreaterThan(0);
    } finally {
      for (const one of running.splice(0)) await one.end("SIGKILL");
      disk.unmount();
    }
  });
});

function valueIn(line: string): string {
  return line.slice(line.indexOf(',"value":') + ',"value":'.length, -1);
}
