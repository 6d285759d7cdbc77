import { appendFileSync, existsSync, mkdtempSync, readdirSync, renameSync, rmSync, utimesSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { gzipSync, zstdCompressSync } from "node:zlib";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { type FolderFeed, folderFeedConfig, startFolderFeed } from "../../../src/feed/input/folder-feed.ts";
import { silentLogger } from "../../../src/telemetry/logger.ts";
import { begun, envelope } from "../samples.ts";
import { feedMetrics, Taken, until } from "./taken.ts";

let folder: string;
const open: FolderFeed[] = [];

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "feed-folder-"));
});
afterEach(async () => {
  for (const feed of open.splice(0)) await feed.close();
  rmSync(folder, { recursive: true, force: true });
});

function started(taken: Taken, change: object = {}): FolderFeed {
  const config = folderFeedConfig.parse({ path: folder, pollSeconds: 0.05, quietSeconds: 0, ...change });
  const feed = startFolderFeed({ config, log: taken.log, logger: silentLogger(), metrics: feedMetrics() });
  open.push(feed);
  return feed;
}

const passes = (from: number, to: number) =>
  Array.from({ length: to - from }, (_, i) => `${envelope("axle-readings", { ...begun, pass: String(from + i) })}\n`).join("");
const taken = (log: Taken) => log.values("axle-readings").map(({ pass }) => Number(pass));
const range = (from: number, to: number) => Array.from({ length: to - from }, (_, i) => from + i);
const isDone = (name: string) => existsSync(join(folder, "done", name));

describe("a watched folder", () => {
  it("takes plain, gzip and zstd files by their names, and moves each away when it is in the log", async () => {
    const log = new Taken();
    writeFileSync(join(folder, "b.jsonl"), gzipSync(passes(3, 6)));
    writeFileSync(join(folder, "a.jsonl"), passes(0, 3));
    writeFileSync(join(folder, "c"), zstdCompressSync(passes(6, 9)));
    started(log);
    await until(() => isDone("c"));
    expect(taken(log)).toEqual(range(0, 9));
    expect(readdirSync(folder).sort()).toEqual(["done", "failed"]);
    writeFileSync(join(folder, "d"), passes(9, 12));
    await until(() => isDone("d"));
    expect(taken(log)).toEqual(range(0, 12));
  });

  it("leaves files alone that are hidden, on their way, or still growing", async () => {
    const log = new Taken();
    for (const name of [".a", "b.part", "c.tmp"]) writeFileSync(join(folder, name), passes(0, 1));
    writeFileSync(join(folder, "grows"), passes(1, 2));
    const soon = new Date(Date.now() + 3_600_000);
    utimesSync(join(folder, "grows"), soon, soon);
    writeFileSync(join(folder, "z-quiet"), passes(2, 3));
    const old = new Date(Date.now() - 3_600_000);
    utimesSync(join(folder, "z-quiet"), old, old);
    started(log, { quietSeconds: 60 });
    await until(() => isDone("z-quiet"));
    expect(taken(log)).toEqual([2]);
    expect(readdirSync(folder).sort()).toEqual([".a", "b.part", "c.tmp", "done", "failed", "grows"]);
  });

  it("goes on where it stopped, and does not read what is durable again", async () => {
    let appends = 0;
    let stop = () => {};
    const isStuck = new Promise<void>((resolve) => {
      stop = resolve;
    });
    const first = new Taken({
      // The process is stopped in the middle: the third batch is never answered.
      passing: async (point) => {
        if (point !== "append" || ++appends < 3) return;
        stop();
        await new Promise(() => {});
      },
    });
    writeFileSync(join(folder, "day"), passes(0, 6_000));
    const crashed = startFolderFeed({
      config: folderFeedConfig.parse({ path: folder, quietSeconds: 0 }),
      log: first.log,
      logger: silentLogger(),
      metrics: feedMetrics(),
    });
    await isStuck;
    void crashed;
    expect(taken(first)).toEqual(range(0, 2_000));
    expect(isDone("day")).toBe(false);
    const second = new Taken();
    started(second);
    await until(() => isDone("day"));
    expect(taken(second)).toEqual(range(2_000, 6_000));
    expect(readdirSync(folder).filter((name) => name.endsWith(".progress"))).toEqual([]);
  });

  it("reads a file anew that came back under the name of one half read", async () => {
    const log = new Taken();
    writeFileSync(join(folder, ".day.progress"), JSON.stringify({ bytes: 1, modifiedMs: 1, inode: 1, lines: 5 }));
    writeFileSync(join(folder, "day"), passes(0, 10));
    started(log);
    await until(() => isDone("day"));
    expect(taken(log)).toEqual(range(0, 10));
  });

  it("never writes over a file that is done under the same name", async () => {
    const log = new Taken();
    started(log);
    for (const turn of [0, 1]) {
      writeFileSync(join(folder, ".day"), passes(turn, turn + 1));
      renameSync(join(folder, ".day"), join(folder, "day"));
      await until(() => !existsSync(join(folder, "day")));
    }
    expect(readdirSync(join(folder, "done")).sort()).toEqual(["day", "day.2"]);
  });

  it("puts a file that breaks off aside, with all that could be read of it in the log", async () => {
    const log = new Taken();
    const whole = gzipSync(Buffer.from(passes(0, 5_000)), { level: 1 });
    writeFileSync(join(folder, "cut"), whole.subarray(0, whole.length / 2));
    writeFileSync(join(folder, "next"), passes(9_000, 9_001));
    started(log);
    await until(() => isDone("next"));
    expect(existsSync(join(folder, "failed", "cut"))).toBe(true);
    const numbers = taken(log).slice(0, -1);
    expect(numbers.length).toBeGreaterThan(1_000);
    expect(numbers).toEqual(range(0, numbers.length));
  });

  it("writes lines that cannot be read to `rejected` and goes on behind them", async () => {
    const log = new Taken();
    writeFileSync(join(folder, "day"), `${passes(0, 1)}nonsense\n${envelope("axle-readings", { type: "axles" })}\n`);
    appendFileSync(join(folder, "day"), passes(1, 2).trimEnd());
    started(log);
    await until(() => isDone("day"));
    expect(log.values("rejected")).toMatchObject([{ topic: "feed-file/day", offset: 2, raw: "nonsense" }]);
    expect(log.values("axle-readings").map(({ type }) => type)).toEqual(["pass-begun", "axles", "pass-begun"]);
  });

  it("waits for a log that has too much waiting, and loses nothing", async () => {
    let refusals = 3;
    const log = new Taken({}, { waitingBytes: 600_000 });
    const append = log.log.append.bind(log.log);
    const { OverloadedError } = await import("../../../src/log/log.ts");
    log.log.append = async (records) => {
      if (refusals-- > 0) throw new OverloadedError("full");
      return append(records);
    };
    writeFileSync(join(folder, "day"), passes(0, 3_000));
    started(log);
    await until(() => isDone("day"));
    expect(taken(log)).toEqual(range(0, 3_000));
  });
});
