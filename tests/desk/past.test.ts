import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { Desk } from "../../src/desk/desk.ts";
import { Past } from "../../src/desk/past/past.ts";
import { clockView } from "../../src/desk/views/clock-view.ts";
import { lineView } from "../../src/desk/views/line-view.ts";
import { nowView } from "../../src/desk/views/now-view.ts";
import { trainView } from "../../src/desk/views/train-view.ts";
import { WhatIfs } from "../../src/desk/what-if.ts";
import type { Log, NewRecord } from "../../src/log/log.ts";
import { MemoryBroker } from "../../src/log/memory.ts";
import { openSqliteLog } from "../../src/log/sqlite/sqlite-log.ts";
import { TOPICS } from "../../src/log/topics.ts";
import { BOOK, CAUTIOUS, RAILROAD, railroadAt } from "./railroad.ts";
import { action, actionsIn, warning } from "./samples.ts";

/** Looking back: the same pages as they stood, from the log alone. */

const NOW_MS = Date.parse("2026-03-04T14:00:00Z");
const THEN_MS = Date.parse("2026-03-04T11:00:00Z");
const HOUR_MS = 3_600_000;
/** Longest that anything else may have to wait while the past is folded. */
const BLOCKED_MS = 50;

const partitions = new Map(TOPICS.map(({ name }) => [name, 1]));

/** Everything that a log in memory holds, written to one on disk at the times at which it happened. */
async function onDisk(from: Log, to: Log, untilMs = Number.POSITIVE_INFINITY): Promise<void> {
  for (const { name } of TOPICS) {
    const records: NewRecord[] = [];
    const { end } = (await from.extent(name))[0]!;
    if (end === 0) continue;
    const all = Promise.withResolvers<void>();
    const tail = await from.tail([{ topic: name, partition: 0, offset: 0 }], {
      records: async ({ records: some }) => {
        for (const { topic, key, value, offset } of some) {
          const { time = null } = JSON.parse(Buffer.from(value).toString()) as { time?: string };
          if (time === null || Date.parse(time) <= untilMs) records.push({ topic, key: key ?? "", value });
          if (offset + 1 >= end) all.resolve();
        }
      },
    });
    await all.promise;
    await tail.close();
    for (let at = 0; at < records.length; at += 50) await to.append(records.slice(at, at + 50));
  }
}

function deskOn(log: Log): Desk {
  return new Desk({ log, railroad: RAILROAD, book: BOOK, clock: { nowMs: () => NOW_MS, speed: 1 }, time: "feed" });
}

/** What the pages would be given of a state, as bytes. */
async function pagesAt(past: Past, timeMs: number): Promise<string[]> {
  const { state, lacks } = await past.at(timeMs);
  const clock = clockView(state, timeMs, 0, lacks);
  const now = nowView(state, RAILROAD, { from: 0, count: 1_000, closed: true }, clock, "place");
  const line = lineView(state, RAILROAD, timeMs - 24 * HOUR_MS, timeMs, clock, "place");
  const trains = [...new Set(now.rows.map((row) => row.journey))].map((journey) => trainView(state, RAILROAD, journey, clock));
  return [now, line, ...trains].map((view) => JSON.stringify(view));
}

describe("looking back over the log of a day", () => {
  let folder: string;
  let log: Log;
  const open = () => openSqliteLog({ folder, partitions, retentionMs: new Map() });

  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), "bearing-rise-past-"));
    const running = await railroadAt(NOW_MS);
    log = await open();
    await onDisk(running.log, log);
    await running.close();
  });
  afterAll(async () => {
    await log.close();
    rmSync(folder, { recursive: true, force: true });
  });

  test("shows after a restart byte for byte what it showed before, and nothing that came later", async () => {
    const before = await pagesAt(deskOn(log).past, THEN_MS);
    await log.close();
    log = await open();
    const desk = deskOn(log);
    await desk.open();
    const after = await pagesAt(desk.past, THEN_MS);
    expect(after.length).toBeGreaterThan(5);
    expect(after).toEqual(before);
    const { state } = await desk.past.at(THEN_MS);
    expect(state.dataMs).toBeLessThanOrEqual(THEN_MS);
    expect(state.board.size).toBeLessThan(desk.state.board.size);
    await desk.close();
  });

  test("shows of now what the live pages show", async () => {
    const desk = deskOn(log);
    await desk.open();
    const { state } = await desk.past.at(NOW_MS + 24 * HOUR_MS);
    expect(state.board.rows(true)).toEqual(desk.state.board.rows(true));
    expect(state.board.size).toBeGreaterThan(10);
    expect(state.sites.conditionList(true)).toEqual(desk.state.sites.conditionList(true));
    await desk.close();
  });

  test("holds nobody up: neither a state, nor what other rules would have said", async () => {
    const desk = deskOn(log);
    await desk.open();
    const whatIfs = new WhatIfs(desk, new Map([["cautious", CAUTIOUS]]));
    // Each time another one: what was folded once is kept.
    const folded = await bestOfThree((n) => desk.past.at(NOW_MS - HOUR_MS - n));
    const tried = await bestOfThree(() => whatIfs.run("cautious", NOW_MS - 6 * HOUR_MS, NOW_MS));
    expect(folded).toBeLessThan(BLOCKED_MS);
    expect(tried).toBeLessThan(BLOCKED_MS);
    await desk.close();
  });

  test("keeps a few states, lets a few wait, and gives up what takes too long", async () => {
    const parts = { log, railroad: RAILROAD, book: BOOK, byArrival: false };
    const past = new Past({ ...parts, limits: { states: 2, waiting: 2, foldMs: 60_000 } });
    const first = past.at(THEN_MS);
    const second = past.at(THEN_MS - 1);
    expect(past.at(THEN_MS)).toBe(first);
    expect(() => past.at(THEN_MS - 2)).toThrow(/Too many are looking back/);
    await Promise.all([first, second]);
    expect(past.at(THEN_MS)).toBe(first);
    await past.at(THEN_MS - 2);
    expect(past.at(THEN_MS)).toBe(first);
    await expect(new Past({ ...parts, limits: { states: 2, waiting: 2, foldMs: 0 } }).at(THEN_MS)).rejects.toThrow(/took longer/);
  });
});

describe("a what-if", () => {
  const books = new Map([["cautious", CAUTIOUS]]);

  test("is one at a time, is given up when it takes too long, and then the next may begin", async () => {
    const log = new MemoryBroker({ partitions }).connect();
    const pass = { type: "consist", train: "Q118", time: new Date(THEN_MS).toISOString(), key: false, vehicles: [] };
    await log.append([{ topic: "passes", key: RAILROAD.corridors[0]!.id, value: JSON.stringify(pass) }]);
    const desk = deskOn(log);
    const hasty = new WhatIfs(desk, books, -1);
    const first = hasty.run("cautious", THEN_MS - HOUR_MS, NOW_MS);
    await expect(hasty.run("cautious", THEN_MS - HOUR_MS, NOW_MS)).rejects.toMatchObject({ status: 429 });
    await expect(first).rejects.toMatchObject({ status: 503, code: "DESK-034 too-long" });
    expect((await new WhatIfs(desk, books).run("cautious", THEN_MS - HOUR_MS, NOW_MS)).passes).toBe(0);
    await log.close();
  });

  test("over hours that the log does not reach is refused, and says how far it reaches", async () => {
    const log = new MemoryBroker({ partitions }).connect();
    const kept = warning({ time: new Date(THEN_MS).toISOString() });
    await log.append([0, 1].map((n) => ({ topic: "warnings", key: "k", value: JSON.stringify({ ...kept, id: `W-${n}` }) })));
    const desk = deskOn(trimmed(log, "warnings", 1));
    const whatIfs = new WhatIfs(desk, books);
    await expect(whatIfs.run("cautious", THEN_MS - HOUR_MS, NOW_MS)).rejects.toThrow(new Date(THEN_MS).toISOString());
    await expect(whatIfs.run("cautious", THEN_MS, NOW_MS)).resolves.toMatchObject({ passes: 0 });
    await log.close();
  });
});

/** Most work in one go while something ran, in ms of this thread's own CPU: other programs on the machine do not count. */
async function longestTurn(run: () => Promise<unknown>): Promise<number> {
  const cpuMs = () => {
    const { user, system } = process.threadCpuUsage();
    return (user + system) / 1_000;
  };
  let last = cpuMs();
  let longestMs = 0;
  const timer = setInterval(() => {
    const now = cpuMs();
    longestMs = Math.max(longestMs, now - last);
    last = now;
  }, 1);
  await run();
  clearInterval(timer);
  return longestMs;
}

/** Garbage collection and first compilation fall into any one of them, work that is too long into all. */
async function bestOfThree(run: (n: number) => Promise<unknown>): Promise<number> {
  const turns: number[] = [];
  for (let n = 0; n < 3; n++) turns.push(await longestTurn(() => run(n)));
  return Math.min(...turns);
}

describe("looking back by when the log took a record", () => {
  let nowMs = Date.parse("2026-03-01T00:00:00Z");
  const START_MS = nowMs;
  const clock = { nowMs: () => nowMs, speed: 1 };
  const at = (hours: number) => START_MS + hours * HOUR_MS;

  async function filled(): Promise<Log> {
    nowMs = START_MS;
    const log = new MemoryBroker({ partitions, now: () => nowMs }).connect();
    const put = async (hours: number, topic: string, value: object) => {
      nowMs = at(hours);
      await log.append([{ topic, key: "k", value: JSON.stringify(value) }]);
    };
    for (let day = 0; day < 5; day++)
      await put(24 * day + 1, "warnings", warning({ id: `W-${day}`, time: new Date(at(24 * day + 1)).toISOString() }));
    await put(98, "desk-actions", action({ action: "acknowledge", warning: "W-4", time: new Date(at(98)).toISOString() }));
    nowMs = at(100);
    return log;
  }

  test("what had come by then: warnings, and what was done about them", async () => {
    const log = await filled();
    const desk = new Desk({ log, railroad: RAILROAD, book: BOOK, clock, time: "arrival" });
    await desk.open();
    expect(desk.state.board.row("W-4")!.state).toBe("acknowledged");
    const { state } = await desk.past.at(at(97.5));
    expect(state.board.row("W-4")!.state).toBe("unacknowledged");
    expect((await desk.past.at(at(30))).state.board.size).toBe(2);
    expect((await desk.past.at(at(0.5))).state.board.size).toBe(0);
    await desk.close();
  });

  test("the audit reaches back to what the desk never held itself", async () => {
    const log = await filled();
    const past = new Past({ log, railroad: RAILROAD, book: BOOK, byArrival: true });
    expect((await actionsIn(past, at(97), at(99))).map(({ arrivedMs, action: one }) => [arrivedMs, one.warning])).toEqual([
      [at(98), "W-4"],
    ]);
    expect(await actionsIn(past, at(0), at(97))).toEqual([]);
  });

  test("an audit of a late hour begins there, and one that holds more than it may says so", async () => {
    const log = await filled();
    const note = (n: number) => action({ action: "note", text: "x", id: `n/${n}`, time: new Date(at(100)).toISOString() });
    for (let n = 0; n < 3; n++) await log.append([{ topic: "desk-actions", key: "k", value: JSON.stringify(note(n)) }]);
    const from: number[] = [];
    const tail: Log["tail"] = (wanted, handler) => {
      from.push(...wanted.map(({ offset }) => offset));
      return log.tail(wanted, handler);
    };
    const past = new Past({ log: { ...trimmed(log, "none", 0), tail }, railroad: RAILROAD, book: BOOK, byArrival: true });
    const found: string[] = [];
    expect(await past.actions(at(99.5), at(101), ({ action: one }) => found.push(one.id), 2)).toBe(true);
    expect(found).toEqual(["n/0", "n/1"]);
    // The acknowledgement of hour 98 stands at offset 0.
    expect(from).toEqual([1]);
    expect(await past.actions(at(99.5), at(101), () => {}, 3)).toBe(false);
  });

  test("what the log's retention took is refused, with how far it still reaches; what it took in part is said", async () => {
    const whole = await filled();
    const log = trimmed(whole, "warnings", 2);
    const past = new Past({ log, railroad: RAILROAD, book: BOOK, byArrival: true });
    expect(await past.begins()).toEqual({ fromMs: at(49), isCut: true });
    await expect(past.at(at(48))).rejects.toMatchObject({ status: 404, code: "DESK-035 not-held" });
    await expect(past.at(at(48))).rejects.toThrow(new Date(at(49)).toISOString());
    expect((await past.at(at(50))).lacks).toEqual([]);
    await whole.append([
      {
        topic: "site-reports",
        key: "s",
        value: JSON.stringify({ type: "heartbeat", site: "alder-14", time: new Date(at(100)).toISOString() }),
      },
    ]);
    nowMs = at(101);
    await whole.append([
      {
        topic: "site-reports",
        key: "s",
        value: JSON.stringify({ type: "heartbeat", site: "alder-14", time: new Date(at(101)).toISOString() }),
      },
    ]);
    const partly = new Past({ log: trimmed(whole, "site-reports", 1), railroad: RAILROAD, book: BOOK, byArrival: true });
    expect((await partly.at(at(102))).lacks).toEqual([{ what: "site-reports", fromMs: at(101) }]);
    expect((await partly.at(at(99))).lacks).toEqual([{ what: "site-reports", fromMs: null }]);
  });
});

/** A log whose retention took the first records of a topic. */
function trimmed(log: Log, topic: string, first: number): Log {
  const cut = (name: string, offset: number) => (name === topic ? Math.max(offset, first) : offset);
  return {
    partitions: (name) => log.partitions(name),
    extent: async (name) => (await log.extent(name)).map((one) => ({ ...one, from: cut(name, one.from) })),
    offsetsAt: async (name, ms) => (await log.offsetsAt(name, ms)).map((one) => ({ ...one, offset: cut(name, one.offset) })),
    append: (records) => log.append(records),
    claim: (source) => log.claim(source),
    work: (stage, topics, worker) => log.work(stage, topics, worker),
    tail: (from, handler) =>
      log.tail(
        from.map((one) => ({ ...one, offset: cut(one.topic, one.offset) })),
        handler,
      ),
    close: () => log.close(),
  };
}
