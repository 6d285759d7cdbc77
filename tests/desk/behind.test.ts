import { describe, expect, test } from "vitest";
import { ActionLog } from "../../src/desk/action-log.ts";
import { machineClock } from "../../src/desk/clock.ts";
import { Desk } from "../../src/desk/desk.ts";
import { deskConfig } from "../../src/desk/desk-config.ts";
import { startDesk } from "../../src/desk/start-desk.ts";
import type { Session } from "../../src/desk/views/session-shape.ts";
import type { DeskAction } from "../../src/feed/record.ts";
import type { Claim, Log, TailHandler } from "../../src/log/log.ts";
import { MemoryBroker } from "../../src/log/memory.ts";
import { TOPICS } from "../../src/log/topics.ts";
import { Client } from "./client.ts";
import { BOOK, RAILROAD } from "./railroad.ts";
import { action, warning } from "./samples.ts";

/** A desk whose log stands still for a while: it must neither open nor judge on less than the log holds. */

const QUIET_MS = 30;
const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));
const broker = () => new MemoryBroker({ partitions: new Map(TOPICS.map(({ name }) => [name, 1])) });

/** A log like another one, but for some of its calls. */
function like(log: Log, over: Partial<Log>): Log {
  return {
    partitions: (topic) => log.partitions(topic),
    extent: (topic) => log.extent(topic),
    offsetsAt: (topic, ms) => log.offsetsAt(topic, ms),
    append: (records) => log.append(records),
    claim: (source) => log.claim(source),
    work: (stage, topics, worker) => log.work(stage, topics, worker),
    tail: (from, handler) => log.tail(from, handler),
    close: () => log.close(),
    ...over,
  };
}

/** The first reader of a topic is handed nothing while `gate.isShut`; any other one is. */
function stalling(log: Log, topic: string, gate: { isShut: boolean }): Log {
  let first: TailHandler | null = null;
  return like(log, {
    tail: (from, handler) => {
      if (first !== null || !from.some((one) => one.topic === topic)) return log.tail(from, handler);
      first = handler;
      return log.tail(from, {
        records: async (batch) => {
          while (gate.isShut && batch.topic === topic) await pause(5);
          await handler.records(batch);
        },
      });
    },
  });
}

function deskOn(log: Log): Desk {
  return new Desk({ log, railroad: RAILROAD, book: BOOK, clock: machineClock, time: "arrival", quietMs: QUIET_MS });
}

/** Whether a promise has settled. */
function watched(promise: Promise<unknown>): { isOver: boolean } {
  const seen = { isOver: false };
  void promise.then(() => {
    seen.isOver = true;
  });
  return seen;
}

describe("a desk that opens while its log stands still", () => {
  test("stays closed until it was handed all that the log held, however long nothing comes", async () => {
    const log = broker().connect();
    await log.append([{ topic: "warnings", key: "W-0001", value: JSON.stringify(warning()) }]);
    const gate = { isShut: true };
    const desk = deskOn(stalling(log, "warnings", gate));
    const opened = desk.open();
    const seen = watched(opened);
    await pause(10 * QUIET_MS);
    expect(seen.isOver).toBe(false);
    gate.isShut = false;
    await opened;
    expect(desk.state.board.row("W-0001")?.level).toBe("warn");
    await desk.close();
  });

  test("opens where the end of the log is no record: a second reader finds none there either", async () => {
    const log = broker().connect();
    await log.append([{ topic: "warnings", key: "W-0001", value: JSON.stringify(warning()) }]);
    // As a cluster counts marks among the offsets.
    const extent: Log["extent"] = async (topic) => (await log.extent(topic)).map((one) => ({ ...one, end: one.end + 2 }));
    const desk = deskOn(like(log, { extent }));
    await desk.open();
    expect(desk.state.board.size).toBe(1);
    await desk.close();
  });

  test("is not opened by a log that hands nothing to anybody and does not answer", async () => {
    const log = broker().connect();
    await log.append([{ topic: "warnings", key: "W-0001", value: JSON.stringify(warning()) }]);
    let isAway = false;
    const tail: Log["tail"] = async (from) => {
      isAway = true;
      return log.tail(from, { records: () => new Promise(() => {}) });
    };
    const extent: Log["extent"] = (topic) => (isAway ? Promise.reject(new Error("nobody answers")) : log.extent(topic));
    const desk = deskOn(like(log, { extent, tail }));
    const seen = watched(desk.open().catch(() => undefined));
    await pause(10 * QUIET_MS);
    expect(seen.isOver).toBe(false);
    // What it is handed is never answered, so its tails never end: only the waiting is ended here.
    void desk.close();
  });
});

describe("a desk whose log went away", () => {
  const config = deskConfig.parse({ port: 0 });

  test("still lets people sign in, with what it knows of how far back it reaches", async () => {
    const log = broker().connect();
    let isAway = false;
    const extent: Log["extent"] = (topic) => (isAway ? Promise.reject(new Error("nobody answers")) : log.extent(topic));
    const desk = await startDesk({ config, log: like(log, { extent }), railroad: RAILROAD, book: BOOK, pages: false });
    isAway = true;
    const client = new Client(desk.url);
    expect((await client.signIn("Ada", "act")).status).toBe(200);
    expect((await client.json<Session>("/api/session")).historyFromMs).toBeNull();
    isAway = false;
    await log.append([{ topic: "warnings", key: "W-0001", value: JSON.stringify(warning()) }]);
    await expect.poll(async () => (await client.json<Session>("/api/session")).historyFromMs).toEqual(expect.any(Number));
    await desk.close();
  });

  test("and one whose port is taken says what to do where no configuration sets it", async () => {
    const parts = { log: broker().connect(), railroad: RAILROAD, book: BOOK, pages: false };
    const desk = await startDesk({ ...parts, config });
    const taken = { ...parts, config: deskConfig.parse({ port: desk.port }) };
    await expect(startDesk(taken)).rejects.toThrow(/Set desk\.host and desk\.port to something free\.$/);
    await expect(startDesk({ ...taken, portRemedy: "Say --port 0." })).rejects.toThrow(/\(EADDRINUSE\)\. Say --port 0\.$/);
    await desk.close();
  });
});

describe("an action while the log stands still", () => {
  const note = (id: string) => action({ id, action: "note", text: "seen" });
  const judge = (id: string) => (): DeskAction => note(id);

  test("is not judged before all that was done before it was read", { timeout: 20_000 }, async () => {
    const log = broker().connect();
    const gate = { isShut: false };
    const desk = deskOn(stalling(log, "desk-actions", gate));
    await desk.open();
    gate.isShut = true;
    await log.append([{ topic: "desk-actions", key: "W-0001", value: JSON.stringify(note("far/1")) }]);
    const actions = new ActionLog(desk);
    let known: boolean | null = null;
    const written = actions.write("W-0001", () => {
      known = desk.state.knowsAction("far/1");
      return judge("near/1")();
    });
    await pause(3_000);
    expect(known).toBeNull();
    gate.isShut = false;
    expect(await written).toBe(true);
    expect(known).toBe(true);
    await actions.close();
    await desk.close();
  });

  test("is refused with what became of it, and the right is let go, when the log does not answer", async () => {
    const log = broker().connect();
    let asked: "claim" | "extent" | null = "claim";
    let held = 0;
    const claim: Log["claim"] = async (source) => {
      if (asked === "claim") throw new Error("nobody answers");
      held++;
      const one = await log.claim(source);
      const release = async () => {
        held--;
        await one.release();
      };
      return { source, start: one.start, commit: (commit) => one.commit(commit), release } satisfies Claim;
    };
    const extent: Log["extent"] = (topic) => (asked === "extent" ? Promise.reject(new Error("nobody answers")) : log.extent(topic));
    const desk = deskOn(like(log, { claim, extent }));
    asked = null;
    await desk.open();
    const actions = new ActionLog(desk);
    for (const call of ["claim", "extent"] as const) {
      asked = call;
      await expect(actions.write("W-0001", judge("a/1")), call).rejects.toMatchObject({
        status: 503,
        code: "DESK-037 log-away",
        message: "The log does not answer. Nothing was taken down; try again.",
      });
      expect(held, call).toBe(0);
    }
    asked = null;
    expect(await actions.write("W-0001", judge("a/1"))).toBe(true);
    await actions.close();
    expect(held).toBe(0);
    await desk.close();
  });

  test("does not wait behind more than fifty others", async () => {
    const log = broker().connect();
    const shut = Promise.withResolvers<void>();
    const claim: Log["claim"] = async (source) => {
      await shut.promise;
      return log.claim(source);
    };
    const desk = deskOn(like(log, { claim }));
    await desk.open();
    const actions = new ActionLog(desk);
    const all = Array.from({ length: 52 }, (_, n) => actions.write("W-0001", judge(`a/${n}`)).catch((error) => error.code as string));
    await pause(20);
    shut.resolve();
    const answers = await Promise.all(all);
    expect(answers.filter((one) => one === true)).toHaveLength(50);
    expect(answers.slice(50)).toEqual(["DESK-033 busy", "DESK-033 busy"]);
    expect(await actions.write("W-0001", judge("a/later"))).toBe(true);
    await actions.close();
    await desk.close();
  });
});
