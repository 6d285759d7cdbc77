import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { DatabaseSync } from "node:sqlite";
import { setTimeout } from "node:timers/promises";
import { afterEach, describe, expect, it } from "vitest";
import { type Log, NoRoomError } from "../../src/log/log.ts";
import { LogInUseError, LogUnreadableError } from "../../src/log/sqlite/errors.ts";
import { logFile } from "../../src/log/sqlite/layout.ts";
import { openSqliteLog, SqliteLog, type SqliteLogSettings, WAITING_BYTES } from "../../src/log/sqlite/sqlite-log.ts";
import { SqliteStore } from "../../src/log/sqlite/store.ts";
import { logContract, readAll, text, waitFor } from "./contract.ts";

const folders: string[] = [];

function freshFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), "rise-log-"));
  folders.push(folder);
  return folder;
}

afterEach(() => {
  for (const folder of folders.splice(0)) rmSync(folder, { recursive: true, force: true });
});

logContract(
  "sqlite",
  async (partitions) => {
    const store = await SqliteStore.open({ folder: freshFolder(), partitions });
    return {
      connect: async ({ waitingBytes = WAITING_BYTES } = {}) => new SqliteLog(store, waitingBytes),
      close: () => store.close(),
    };
  },
  // The log is in the same process: what can be lost with an answer is the process itself (`tests/chaos`).
  { patienceMs: 20_000, losesAnswers: false },
);

const PARTITIONS = new Map([
  ["in", 2],
  ["out", 1],
]);
/** Whoever does not wait has given up by then. */
const STILL_MS = 500;
const SOURCE = { stage: "fold", topic: "in", partition: 1 };
const until = (fact: () => boolean | Promise<boolean>) => waitFor(fact, 20_000);

describe("the log in a data folder", () => {
  const opened: Log[] = [];

  async function open(settings: Omit<SqliteLogSettings, "partitions">): Promise<Log> {
    const log = await openSqliteLog({ partitions: PARTITIONS, ...settings });
    opened.push(log);
    return log;
  }

  afterEach(async () => {
    for (const log of opened.splice(0)) await log.close();
  });

  it("tells a lock's file that is spoilt from a folder that another process has", async () => {
    const folder = freshFolder();
    writeFileSync(join(folder, "owner.sqlite"), "not a database at all");
    const refused = await open({ folder }).catch((error: unknown) => error);
    expect(refused).toBeInstanceOf(LogUnreadableError);
    expect((refused as Error).message).toMatch(/owner\.sqlite cannot be locked: .*take it away and start again/);
    rmSync(join(folder, "owner.sqlite"));
    await open({ folder });
    expect(await open({ folder }).catch((error: unknown) => error)).toBeInstanceOf(LogInUseError);
  });

  it("is there again when it is opened the next time: records, offsets and positions", async () => {
    const folder = freshFolder();
    const first = await open({ folder });
    await first.append([{ topic: "in", key: "k", value: "a", partition: 1, headers: { ce_id: "1" } }]);
    await (await first.claim(SOURCE)).commit({ position: 1, refoldFrom: 1, outputs: [{ topic: "out", key: "k", value: "b" }] });
    await first.close();
    const second = await open({ folder });
    expect((await second.claim(SOURCE)).start).toEqual({ position: 1, refoldFrom: 1 });
    await second.append([{ topic: "in", key: "k", value: "c", partition: 1 }]);
    const read = await readAll(second, "in", until, 2);
    expect(read.map((record) => [record.offset, text(record), record.headers["ce_id"]])).toEqual([
      [0, "a", "1"],
      [1, "c", undefined],
    ]);
    expect((await readAll(second, "out", until, 1)).map(text)).toEqual(["b"]);
  });

  it("is waited for while a reader brings it up to date after a kill, instead of being told unreadable", async () => {
    const folder = freshFolder();
    await (await open({ folder })).close();
    const reader = new DatabaseSync(logFile(folder));
    reader.exec("PRAGMA locking_mode = EXCLUSIVE; BEGIN EXCLUSIVE");
    const opening = open({ folder });
    const settled = opening.then(
      () => "opened",
      () => "refused",
    );
    expect(await Promise.race([settled, setTimeout(STILL_MS, "waits")])).toBe("waits");
    reader.close();
    expect(await settled).toBe("opened");
    await (await opening).append([{ topic: "in", key: "k", value: "a", partition: 0 }]);
    expect((await (await opening).extent("in"))[0]!.end).toBe(1);
  });

  it("fences whoever claimed before the stop", async () => {
    const folder = freshFolder();
    const store = await SqliteStore.open({ folder, partitions: PARTITIONS });
    const old = await new SqliteLog(store, WAITING_BYTES).claim(SOURCE);
    await store.close();
    const next = await open({ folder });
    await next.claim(SOURCE);
    await expect(old.commit({ position: 1, refoldFrom: 0, outputs: [] })).rejects.toThrow();
    expect((await next.claim(SOURCE)).start.position).toBe(0);
  });

  it("is one process's: a second one is told who has it", async () => {
    const folder = freshFolder();
    await open({ folder });
    await expect(openSqliteLog({ folder, partitions: PARTITIONS })).rejects.toThrow(LogInUseError);
    await expect(openSqliteLog({ folder, partitions: PARTITIONS })).rejects.toThrow(folder);
  });

  it("may get more partitions, and keeps those it has", async () => {
    const folder = freshFolder();
    await (await open({ folder })).close();
    const more = await openSqliteLog({ folder, partitions: new Map([["in", 5]]) });
    opened.push(more);
    expect([await more.partitions("in"), await more.partitions("out")]).toEqual([5, 1]);
  });

  it("of something that is no log is refused by name", async () => {
    const folder = freshFolder();
    const { writeFileSync } = await import("node:fs");
    writeFileSync(join(folder, "log.sqlite"), "not a database, and long enough to be looked at as one".repeat(100));
    await expect(openSqliteLog({ folder, partitions: PARTITIONS })).rejects.toThrow(LogUnreadableError);
  });

  it("reads more than it keeps at hand from the disk", async () => {
    const log = await open({ folder: freshFolder() });
    const value = (n: number) => `${n}:${"x".repeat(20_000)}`;
    for (let n = 0; n < 300; n += 50) {
      await log.append(Array.from({ length: 50 }, (_, i) => ({ topic: "in", key: "k", value: value(n + i), partition: 0 })));
    }
    const read = await readAll(log, "in", until, 300);
    expect(read.map((record) => Number.parseInt(text(record), 10))).toEqual(Array.from({ length: 300 }, (_, n) => n));
  });

  it("lets go of what is older than its topic keeps, but of nothing that a stage must fold again", async () => {
    const folder = freshFolder();
    const store = await SqliteStore.open({ folder, partitions: PARTITIONS, retentionMs: new Map([["in", 1_000]]) });
    const log = new SqliteLog(store, WAITING_BYTES, () => store.close());
    opened.push(log);
    const ten = Array.from({ length: 10 }, (_, n) => ({ topic: "in", key: "k", value: `${n}`, partition: 1 }));
    await log.append(ten);
    await log.append([{ topic: "out", key: "k", value: "kept: no bound was given" }]);
    await (await log.claim(SOURCE)).commit({ position: 8, refoldFrom: 4, outputs: [] });
    const laterMs = Date.now() + 10_000;
    await store.trim(laterMs);
    expect((await log.extent("in"))[1]).toEqual({ partition: 1, from: 4, end: 10 });
    expect((await readAll(log, "in", until, 6)).map(text)).toEqual(["4", "5", "6", "7", "8", "9"]);
    await (await log.claim(SOURCE)).commit({ position: 10, refoldFrom: 10, outputs: [] });
    await store.trim(laterMs);
    expect((await log.extent("in"))[1]).toEqual({ partition: 1, from: 10, end: 10 });
    expect((await log.extent("out"))[0]).toEqual({ partition: 0, from: 0, end: 1 });
  });

  it("takes nothing of a call that finds no room, says so, and goes on when there is room again", async () => {
    const folder = freshFolder();
    const small = await open({ folder, mostBytes: 400_000 });
    const claim = await small.claim(SOURCE);
    const value = "x".repeat(50_000);
    let taken = 0;
    let refused: unknown = null;
    while (refused === null && taken < 100) {
      await small.append([{ topic: "in", key: "k", value, partition: 1 }]).then(
        () => taken++,
        (error: unknown) => {
          refused = error;
        },
      );
    }
    expect(refused).toBeInstanceOf(NoRoomError);
    expect((refused as Error).message).toMatch(/no room/);
    const outputs = [{ topic: "out", key: "k", value }];
    await expect(claim.commit({ position: 1, refoldFrom: 0, outputs })).rejects.toThrow(NoRoomError);
    expect((await small.extent("in"))[1]).toEqual({ partition: 1, from: 0, end: taken });
    expect((await small.extent("out"))[0]).toEqual({ partition: 0, from: 0, end: 0 });
    // Small things still fit, and the claim is as good as before.
    await claim.commit({ position: 1, refoldFrom: 0, outputs: [] });
    await small.close();
    const roomy = await open({ folder });
    await roomy.append([{ topic: "in", key: "k", value, partition: 1 }]);
    expect((await roomy.extent("in"))[1]).toEqual({ partition: 1, from: 0, end: taken + 1 });
    expect((await roomy.claim(SOURCE)).start.position).toBe(1);
  });
});
