import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, describe, expect, test } from "vitest";
import { ActionLog } from "../../src/desk/action-log.ts";
import { deskConfig } from "../../src/desk/desk-config.ts";
import type { Changes } from "../../src/desk/server/live-stream.ts";
import { type RunningDesk, startDesk } from "../../src/desk/start-desk.ts";
import type { Acted, Problem } from "../../src/desk/views/act-shape.ts";
import type { Now } from "../../src/desk/views/now-shape.ts";
import type { OneWarning } from "../../src/desk/views/warning-shape.ts";
import type { Log } from "../../src/log/log.ts";
import { MemoryBroker, type MemoryFaults } from "../../src/log/memory.ts";
import { SqliteLog, WAITING_BYTES } from "../../src/log/sqlite/sqlite-log.ts";
import { SqliteStore } from "../../src/log/sqlite/store.ts";
import { TOPICS } from "../../src/log/topics.ts";
import { Client } from "./client.ts";
import { BOOK, RAILROAD } from "./railroad.ts";
import { actionsIn, warning } from "./samples.ts";

/** Two real desks on one log: what is done at one is seen at the other, and judged once. */

const partitions = new Map(TOPICS.map(({ name }) => [name, name === "desk-actions" ? 2 : 1]));
const closing: (() => Promise<void>)[] = [];

afterEach(async () => {
  for (const close of closing.splice(0).reverse()) await close();
});

async function deskOn(log: Log, who: string): Promise<{ desk: RunningDesk; client: Client }> {
  const desk = await startDesk({ config: deskConfig.parse({ port: 0 }), log, railroad: RAILROAD, book: BOOK, pages: false });
  closing.push(() => desk.close());
  const client = new Client(desk.url);
  await client.signIn(who, "act");
  return { desk, client };
}

async function twoOnMemory(faults: MemoryFaults = {}) {
  const broker = new MemoryBroker({ partitions });
  const [near, far] = [broker.connect(faults), broker.connect()];
  return { log: far as Log, ada: await deskOn(near, "Ada"), ben: await deskOn(far, "Ben") };
}

async function twoOnDisk() {
  const folder = mkdtempSync(join(tmpdir(), "bearing-rise-two-"));
  const store = await SqliteStore.open({ folder, partitions, retentionMs: new Map() });
  closing.push(async () => {
    await store.close();
    rmSync(folder, { recursive: true, force: true });
  });
  const [near, far] = [new SqliteLog(store, WAITING_BYTES), new SqliteLog(store, WAITING_BYTES)];
  closing.push(
    () => near.close(),
    () => far.close(),
  );
  return { log: far as Log, ada: await deskOn(near, "Ada"), ben: await deskOn(far, "Ben") };
}

type Two = Awaited<ReturnType<typeof twoOnMemory>>;

async function warned({ log, ada, ben }: Two, ids: readonly string[] = ["W-0001"]): Promise<void> {
  await log.append(ids.map((id) => ({ topic: "warnings", key: id, value: JSON.stringify(warning({ id })) })));
  for (const { desk } of [ada, ben]) await expect.poll(() => ids.every((id) => desk.desk.state.board.row(id) !== undefined)).toBe(true);
}

const acknowledge = (id: string, subject = "W-0001", actions = 0) => ({
  id,
  action: "acknowledge",
  warning: subject,
  seen: { version: 1, actions },
});

const actionsAt = async ({ client }: Two["ada"], id = "W-0001") =>
  (await client.json<OneWarning>(`/api/warning?id=${id}`)).actions.map(({ action }) => action.id);

for (const [kind, make] of [
  ["in memory", twoOnMemory],
  ["on disk", twoOnDisk],
] as const) {
  describe(`two desks on one log ${kind}`, () => {
    test("an action at one is told to the pages of the other", async () => {
      const two = await make();
      await warned(two);
      const { place } = await two.ben.client.json<Now>("/api/now");
      const rowsIn = (events: readonly { event: string; data: unknown }[]) =>
        events.filter(({ event }) => event === "changes").flatMap(({ data }) => (data as Changes).rows);
      const watching = two.ben.client.events(`/api/live?after=${place}`, (events) => rowsIn(events).length > 0);
      expect((await two.ada.client.post("/api/act", acknowledge("a/1"))).status).toBe(200);
      expect(rowsIn(await watching)[0]).toMatchObject({ id: "W-0001", state: "acknowledged", owner: "Ada", actions: 1 });
    });

    test("of two at the same moment one is taken down, and the other one is told of it", async () => {
      const two = await make();
      const ids = Array.from({ length: 8 }, (_, n) => `W-${n}`);
      await warned(two, ids);
      for (const id of ids) {
        const answers = await Promise.all([
          two.ada.client.post("/api/act", acknowledge(`a/${id}`, id)),
          two.ben.client.post("/api/act", { ...acknowledge(`b/${id}`, id), action: "assign", to: "Ben" }),
        ]);
        expect(answers.map(({ status }) => status).sort(), id).toEqual([200, 409]);
        const refused = (await answers.find(({ status }) => status === 409)!.json()) as Problem;
        expect(refused).toMatchObject({ code: "DESK-020 changed-meanwhile", row: { id, actions: 1 } });
        const taken = answers[0]!.status === 200 ? `a/${id}` : `b/${id}`;
        for (const desk of [two.ada, two.ben]) await expect.poll(() => actionsAt(desk, id)).toEqual([taken]);
      }
    });

    test("one that is sent to both, because the first did not answer, is taken down once", async () => {
      const two = await make();
      await warned(two);
      const answers = await Promise.all([two.ada, two.ben, two.ada].map(({ client }) => client.post("/api/act", acknowledge("a/1"))));
      const bodies = (await Promise.all(answers.map((answer) => answer.json()))) as Acted[];
      expect(answers.map(({ status }) => status)).toEqual([200, 200, 200]);
      expect(bodies.filter(({ repeated }) => !repeated)).toHaveLength(1);
      for (const desk of [two.ada, two.ben]) await expect.poll(() => actionsAt(desk)).toEqual(["a/1"]);
      const site = { id: "s/1", action: "note", site: "alder-14", text: "on my way" };
      for (const { client } of [two.ada, two.ben, two.ada]) expect((await client.post("/api/act", site)).status).toBe(200);
      expect(await actionsIn(two.ada.desk.desk.past, 0, Date.now() + 1_000)).toHaveLength(2);
    });

    test("they take turns for as long as they like", async () => {
      const two = await make();
      await warned(two);
      for (let n = 0; n < 10; n++) {
        const { client } = n % 2 === 0 ? two.ada : two.ben;
        const note = { id: `n/${n}`, action: "note", warning: "W-0001", done: "told-crew", seen: { version: 1, actions: n } };
        // What the other one did a moment ago is judged with, though its page may not have seen it yet.
        expect((await client.post("/api/act", note)).status, `${n}`).toBe(200);
      }
    });
  });
}

describe("a desk on a log that forgets", () => {
  test("lets it: what it has read is not kept for it", async () => {
    const folder = mkdtempSync(join(tmpdir(), "bearing-rise-forgets-"));
    const one = new Map(TOPICS.map(({ name }) => [name, 1]));
    const store = await SqliteStore.open({ folder, partitions: one, retentionMs: new Map([["desk-actions", 1_000]]) });
    const log = new SqliteLog(store, WAITING_BYTES);
    const { desk, client } = await deskOn(log, "Ada");
    await log.append([{ topic: "warnings", key: "W-0001", value: JSON.stringify(warning()) }]);
    await expect.poll(() => desk.desk.state.board.size).toBe(1);
    expect((await client.post("/api/act", acknowledge("a/1"))).status).toBe(200);
    for (let n = 0; n < 5; n++) {
      const note = {
        type: "desk-action",
        id: `n/${n}`,
        time: new Date().toISOString(),
        by: "Elsewhere",
        action: "note",
        warning: "W-0001",
        text: "x",
      };
      await log.append([{ topic: "desk-actions", key: "W-0001", value: JSON.stringify(note) }]);
    }
    await expect.poll(() => desk.desk.reachedOf("desk-actions/0")).toBe(6);
    const laterMs = Date.now() + 60_000;
    await store.trim(laterMs);
    expect((await log.extent("desk-actions"))[0]!.from).toBe(0);
    const actions = new ActionLog(desk.desk);
    await actions.keepUp();
    await store.trim(laterMs);
    expect((await log.extent("desk-actions"))[0]!.from).toBe(6);
    await actions.close();
    await desk.close();
    await log.close();
    await store.close();
    rmSync(folder, { recursive: true, force: true });
    closing.length = 0;
  });
});

describe("a desk whose log does not answer", () => {
  for (const fate of ["done-unanswered", "undone-unanswered"] as const) {
    test(`takes the action down once: ${fate}`, async () => {
      let left = 1;
      const two = await twoOnMemory({ fate: (call) => (call === "commit" && left-- > 0 ? fate : "answered") });
      await warned(two);
      const answer = await two.ada.client.post("/api/act", acknowledge("a/1"));
      expect(answer.status).toBe(200);
      expect(((await answer.json()) as Acted).repeated).toBe(false);
      await expect.poll(() => actionsAt(two.ben)).toEqual(["a/1"]);
      expect(await actionsIn(two.ben.desk.desk.past, 0, Date.now() + 1_000)).toHaveLength(1);
    });
  }
});
