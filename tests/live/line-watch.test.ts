import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { stringify } from "yaml";
import { openFeedWriter } from "../../src/feed/feed-writer.ts";
import { MOST_ANNOUNCED_BYTES } from "../../src/flow/line-announced.ts";
import type { LineBook } from "../../src/line/line-book.ts";
import { type DatedLine, loadLines } from "../../src/line/lines.ts";
import type { LiveConfig } from "../../src/live/config.ts";
import { LINE_LEAD_MS, sizeRefusalOf } from "../../src/live/line-refusal.ts";
import { startLineWatch } from "../../src/live/line-watch.ts";
import { startLive } from "../../src/live/live.ts";
import { MemoryBroker, type MemoryLog } from "../../src/log/memory.ts";
import { INBOUND, partitionsOf } from "../../src/log/topics.ts";
import { Outputs } from "../../src/replay/outputs.ts";
import { recordDay } from "../../src/replay/record-day.ts";
import { replay } from "../../src/replay/replay.ts";
import { type Logger, silentLogger } from "../../src/telemetry/logger.ts";
import type { Warning } from "../../src/warning/warning.ts";
import { changedContents, type LineContents, manyCorridors, withoutColdrill } from "../flow/changed-line.ts";
import { demoRailroad, demoRules, simulated, standing } from "../flow/folded.ts";
import { LiveRun } from "../replay/live-run.ts";

const NOW_MS = Date.parse("2026-03-04T06:00:00.000Z");
const LATER_MS = NOW_MS + 3_600_000;
let folder: string;

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "rise-line-"));
  writeFileSync(join(folder, "line-1.yaml"), readFileSync("replay-data/line.yaml"));
});

afterEach(() => rmSync(folder, { recursive: true, force: true }));

function write(name: string, contents: LineContents): void {
  writeFileSync(join(folder, name), stringify(contents));
}

function opened(path = folder): { book: LineBook; dated: ReturnType<typeof loadLines>["dated"] } {
  const { book, dated, mistakes } = loadLines(path);
  if (book === null) throw new Error(JSON.stringify(mistakes));
  return { book, dated };
}

interface Line {
  event: string;
  message: string;
}

async function watched({
  time = "arrival" as "arrival" | "feed",
  log,
  nowMs = () => NOW_MS,
  path = folder,
  meanwhile = () => {},
}: {
  time?: "arrival" | "feed";
  log?: MemoryLog;
  nowMs?: () => number;
  path?: string;
  /** Happens while everything is started. */
  meanwhile?: () => void;
} = {}) {
  const broker = new MemoryBroker({ partitions: partitionsOf() });
  const told: Line[] = [];
  const tell = (event: string, message: string) => void told.push({ event, message });
  const logger: Logger = { debug: tell, info: tell, warn: tell, error: tell, child: () => logger, heldBack: 0 };
  const { book, dated } = opened(path);
  meanwhile();
  const clock = { now: nowMs, after: () => () => {}, breathe: () => Promise.resolve() };
  const watch = await startLineWatch({ path, dated, book, time, isAnnouncing: true, log: log ?? broker.connect(), clock, logger });
  const announced = () =>
    INBOUND.flatMap((topic) => Array.from({ length: broker.partitions(topic) }, (_, partition) => broker.topic(topic, partition)).flat());
  return { watch, book, told, announced, sources: INBOUND.reduce((sum, topic) => sum + broker.partitions(topic), 0) };
}

describe("a line file that changes while everything runs", () => {
  it("is announced in every inbound partition, once, and known from its own date on", async () => {
    const { watch, book, announced, told, sources } = await watched();
    await watch.look();
    expect(announced()).toEqual([]);
    write("line-2.yaml", changedContents(withoutColdrill, LATER_MS));
    await watch.look();
    await watch.look();
    expect(announced()).toHaveLength(sources);
    expect(told.map(({ event }) => event)).toEqual(["line-changed"]);
    expect([book.at(LATER_MS - 1).sites.has("coldrill-44"), book.at(LATER_MS).sites.has("coldrill-44")]).toEqual([true, false]);
    await watch.close();
  });

  it("that was there at the start with a date to come is announced then, so that a recorded day holds it", async () => {
    write("line-2.yaml", changedContents(withoutColdrill, LATER_MS));
    const { watch, announced, sources } = await watched();
    expect(announced()).toHaveLength(sources);
    await watch.look();
    expect(announced()).toHaveLength(sources);
    await watch.close();
  });

  const moved = (file: LineContents) => {
    const [one, two] = file.corridors as [LineContents["corridors"][number], LineContents["corridors"][number]];
    const site = two.sites.find((id) => one.leadIn?.includes(id))!;
    two.sites = two.sites.filter((id) => id !== site);
    two.leadIn = [...(two.leadIn ?? []), site];
    one.leadIn = one.leadIn!.filter((id) => id !== site);
    one.sites.push(site);
  };
  it.each<[string, () => void, RegExp]>([
    [
      "a site that moves to another corridor",
      () => write("line-2.yaml", changedContents(moved, LATER_MS)),
      /line-cannot-follow.*site \S+ moves from corridor.*Stop bearing-rise/s,
    ],
    [
      "a corridor with another id",
      () =>
        write(
          "line-2.yaml",
          changedContents((file) => {
            file.corridors[0]!.id = "other";
          }, LATER_MS),
        ),
      /line-cannot-follow.*corridor \S+ is gone.*Stop bearing-rise/s,
    ],
    [
      "a date that has passed",
      () => write("line-2.yaml", changedContents(withoutColdrill, NOW_MS - 1)),
      /comes too late.*Give it a `from` after 2026-03-04T06:05/,
    ],
    [
      "a date nearer than readings may be ahead",
      () =>
        write(
          "line-2.yaml",
          changedContents(() => {}, NOW_MS + LINE_LEAD_MS - 1),
        ),
      /comes too late/,
    ],
    [
      "a state changed in place",
      () => write("line-1.yaml", changedContents(withoutColdrill)),
      /says other things than when it was taken.*a file of its own/,
    ],
    [
      "the old file made into one with a date to come",
      () => write("line-1.yaml", changedContents(withoutColdrill, LATER_MS)),
      /The line without a date is no longer there.*keep the old file beside the new one, in a folder/,
    ],
    [
      "a new file, and the old one taken away",
      () => {
        write("line-2.yaml", changedContents(withoutColdrill, LATER_MS));
        rmSync(join(folder, "line-1.yaml"));
      },
      /no longer there/,
    ],
    ["a mistake", () => writeFileSync(join(folder, "line-2.yaml"), "from: yesterday\n"), /left as it is: .*line-2.yaml:1:7/s],
    ["a date twice", () => write("line-2.yaml", changedContents(withoutColdrill)), /same-line-date/],
  ])("with %s changes nothing, and it is said what to do", async (_name, change, words) => {
    const { watch, book, announced, told } = await watched();
    change();
    await watch.look();
    expect([announced(), book.states.length]).toEqual([[], 1]);
    expect(told.map(({ event }) => event)).toEqual(["line-refused"]);
    expect(told[0]!.message).toMatch(words);
    await watch.close();
  });

  it("waits for the next start where recorded days are fed in", async () => {
    const { watch, announced, told } = await watched({ time: "feed" });
    write("line-2.yaml", changedContents(withoutColdrill, LATER_MS));
    await watch.look();
    expect(announced()).toEqual([]);
    expect(told.map(({ event, message }) => [event, message])).toEqual([
      ["line-refused", expect.stringContaining("is taken at the next start")],
    ]);
    await watch.close();
  });
});

describe("what is in the files at the start", () => {
  it("changed in a single file while everything was started is seen at the first look", async () => {
    const path = join(folder, "line-1.yaml");
    const { told, book } = await watched({ path, meanwhile: () => write("line-1.yaml", changedContents(withoutColdrill, LATER_MS)) });
    expect(told.map(({ event, message }) => [event, message])).toEqual([["line-refused", expect.stringContaining("no longer there")]]);
    expect(book.states).toHaveLength(1);
  });

  it("and comes into the folder meanwhile is announced", async () => {
    const { announced, sources } = await watched({ meanwhile: () => write("line-2.yaml", changedContents(withoutColdrill, LATER_MS)) });
    expect(announced()).toHaveLength(sources);
  });

  it("and over for two days may be taken away", async () => {
    write("line-2.yaml", changedContents(withoutColdrill, NOW_MS - 49 * 3_600_000));
    const { watch, told } = await watched();
    rmSync(join(folder, "line-1.yaml"));
    await watch.look();
    expect(told).toEqual([]);
    write(
      "line-3.yaml",
      changedContents(() => {}, LATER_MS),
    );
    await watch.look();
    expect(told.map(({ event }) => event)).toEqual(["line-changed"]);
  });

  it("must hold now where time is that of arrival: a line that is all to come stops the start", async () => {
    write("line-1.yaml", changedContents(withoutColdrill, LATER_MS));
    const config = { railroad: { line: folder, rules: "replay-data/rules/standard", time: "arrival" } } as LiveConfig;
    const clock = { now: () => NOW_MS, after: () => () => {}, breathe: () => Promise.resolve() };
    await expect(startLive(config, silentLogger(), "test", clock)).rejects.toThrow(
      /line-still-to-come.*Keep the old file beside the new one/s,
    );
  });

  it("but is too large for all corridors to be told at once is not announced, and it is said", async () => {
    const first = manyCorridors(70);
    write("line-1.yaml", first);
    write("line-2.yaml", manyCorridors(70, LATER_MS));
    expect(Buffer.byteLength(JSON.stringify(opened().dated[0]!.contents)) * 70).toBeGreaterThan(8 * 1024 * 1024);
    const { watch, announced, told } = await watched();
    write("line-3.yaml", manyCorridors(70, 2 * LATER_MS));
    await watch.look();
    expect(announced()).toEqual([]);
    expect(told.map(({ event, message }) => [event, message])).toEqual([
      ["line-refused", expect.stringContaining("larger than 70 corridors can be told at once (8 MiB for all of them)")],
      ["line-refused", expect.stringContaining("larger than 70 corridors can be told at once (8 MiB for all of them)")],
    ]);
  });
});

describe("a state beside which others are restated", () => {
  it("is refused when a corridor could not restate all of them in one commit", () => {
    write("line-2.yaml", changedContents(withoutColdrill, LATER_MS));
    const [, line] = opened().dated as [DatedLine, DatedLine];
    const roomBytes = MOST_ANNOUNCED_BYTES - Buffer.byteLength(JSON.stringify(line.contents));
    expect(sizeRefusalOf(line, 0)).toBeNull();
    expect(sizeRefusalOf(line, roomBytes - 1_000)).toBeNull();
    expect(sizeRefusalOf(line, roomBytes)).toMatch(/larger than there is room for beside the other states \(8 MiB/);
  });
});

describe("an announcement that does not get through", () => {
  /** A log of which the first appends fail, half of their records taken. */
  function failing(times: number): { log: MemoryLog; broker: MemoryBroker } {
    const broker = new MemoryBroker({ partitions: partitionsOf() });
    const log = broker.connect();
    const append = log.append.bind(log);
    log.append = async (records) => {
      if (times-- <= 0) return append(records);
      await append(records.slice(0, records.length / 2));
      throw new Error("the log is gone");
    };
    return { log, broker };
  }

  it("is made again, even when its date came too near meanwhile", async () => {
    let nowMs = NOW_MS;
    const { log, broker } = failing(1);
    const { watch, told, book } = await watched({ log, nowMs: () => nowMs });
    write("line-2.yaml", changedContents(withoutColdrill, LATER_MS));
    await expect(watch.look()).rejects.toThrow("the log is gone");
    nowMs = LATER_MS - LINE_LEAD_MS / 2;
    await watch.look();
    expect(told.map(({ event }) => event)).toEqual(["line-changed"]);
    expect(book.has(LATER_MS)).toBe(true);
    for (const topic of INBOUND)
      for (let partition = 0; partition < broker.partitions(topic); partition++)
        expect(broker.topic(topic, partition).length, `${topic}/${partition}`).toBeGreaterThan(0);
  });

  it("is waited for when everything stops, that of a state of the start as well", async () => {
    write("line-2.yaml", changedContents(withoutColdrill, LATER_MS));
    const { log } = failing(1);
    const { watch, told } = await watched({ log });
    expect(told.map(({ event }) => event)).toEqual(["log-failed"]);
    const { promise, resolve } = Promise.withResolvers<void>();
    log.append = () => promise;
    const look = watch.look();
    const order: string[] = [];
    const closed = watch.close().then(() => void order.push("closed"));
    await new Promise((done) => setTimeout(done, 20));
    order.push("answered");
    resolve();
    await Promise.all([look, closed]);
    expect(order).toEqual(["answered", "closed"]);
  });
});

describe("a live run over which the line changed, stopped and started after that", { timeout: 120_000 }, () => {
  it("is recorded with the change: a replay with the first line file alone says the same, byte for byte", async () => {
    const { feed } = simulated({ seed: 37, hours: 8, world: "mixed", trainsPerDay: 110, group: 32 }, demoRailroad());
    const beganMs = feed[0]!.atMs;
    const announcedMs = beganMs + 2 * 3_600_000;
    const changeMs = announcedMs + 3_600_000;
    const stoppedMs = changeMs + 2 * 3_600_000;
    const live = new LiveRun(beganMs);
    const { watch, book } = await watched({ log: live.broker.connect(), nowMs: () => live.nowMs });
    await live.start(book, demoRules());
    await live.arrive(feed.filter(({ atMs }) => atMs < announcedMs));
    const change = (file: LineContents) => {
      for (const link of file.links) link.miles += 0.3;
      withoutColdrill(file);
    };
    write("line-2.yaml", changedContents(change, changeMs));
    await watch.look();
    await live.arrive(feed.filter(({ atMs }) => atMs >= announcedMs && atMs < stoppedMs));
    await live.close();
    await live.start(opened().book, demoRules());
    await live.feed(feed.filter(({ atMs }) => atMs >= stoppedMs));
    await live.settled();
    const recording = join(folder, "day.jsonl.zst");
    const writer = openFeedWriter(recording);
    await recordDay({ log: live.broker.connect(), fromMs: 0, toMs: Number.POSITIVE_INFINITY, writer, byArrival: true });
    await writer.close();
    const published = live.texts("warnings");
    const passes = live.texts("passes").filter((text) => text.startsWith('{"id"'));
    const refused = live.texts("rejected").map((text) => (JSON.parse(text) as { reason: string }).reason);
    await live.close();
    await watch.close();

    expect(published.length).toBeGreaterThan(5);
    expect(passes.some((text) => text.includes('"site":"coldrill-44"'))).toBe(true);
    expect(refused).toContain("LINE-001 unknown-site");
    // One book for both: what one replay is told must not be known to the next before it comes.
    const railroad = opened(join(folder, "line-1.yaml")).book;
    for (const order of ["recorded", "assembled"] as const) {
      const out = join(folder, order);
      const outputs = new Outputs(out);
      await replay({ railroad, rules: demoRules(), feeds: [recording], outputs, order });
      outputs.finish();
      expect(railroad.states).toHaveLength(1);
      const lines = (name: string) =>
        readFileSync(join(out, `${name}.jsonl`), "utf8")
          .split("\n")
          .slice(0, -1);
      const end = (texts: readonly string[]) => standing(texts.map((text) => JSON.parse(text) as Warning));
      expect(end(lines("warnings"))).toEqual(end(published));
      if (order === "recorded") expect(lines("warnings").sort()).toEqual([...published].sort());
      else expect(lines("passes").sort()).toEqual([...new Set(passes)].sort());
      if (order === "recorded") expect(lines("site-conditions").sort()).toEqual(live.texts("site-conditions").sort());
    }
  });
});
