import { afterAll, beforeAll, describe, expect, test, vi } from "vitest";
import { deskConfig } from "../../src/desk/desk-config.ts";
import { startDesk } from "../../src/desk/start-desk.ts";
import type { Problem } from "../../src/desk/views/act-shape.ts";
import type { Now } from "../../src/desk/views/now-shape.ts";
import type { OneWarning } from "../../src/desk/views/warning-shape.ts";
import type { Log } from "../../src/log/log.ts";
import { TOPICS } from "../../src/log/topics.ts";
import { type Broker, brokerKind, startBroker } from "../broker/broker.ts";
import { kafkaBed } from "../log/kafka/bed.ts";
import { Client } from "./client.ts";
import { BOOK, RAILROAD } from "./railroad.ts";
import { warning } from "./samples.ts";

/** Two desks in two processes' worth of connections to one cluster, whose topics end with the marks of commits. */

const found = await brokerKind();

async function deskOn(log: Log, who: string) {
  const desk = await startDesk({ config: deskConfig.parse({ port: 0 }), log, railroad: RAILROAD, book: BOOK, pages: false });
  const client = new Client(desk.url);
  await client.signIn(who, "act");
  return { desk, client };
}

describe.skipIf("reason" in found)("two desks on a real broker", () => {
  let broker: Broker;
  const closing: (() => Promise<void>)[] = [];
  beforeAll(async () => {
    broker = await startBroker();
  });
  afterAll(async () => {
    for (const close of closing.reverse()) await close();
    await broker.stop();
  });

  test("open although marks stand at the end of what they read, judge an action once, and look back", async () => {
    const bed = await kafkaBed(broker.brokers, new Map(TOPICS.map(({ name }) => [name, 1])));
    const [near, far] = [await bed.connect(), await bed.connect()];
    closing.push(
      () => near.close(),
      () => far.close(),
    );
    // As `follow` writes it: by a commit, whose mark is the last thing in the topic.
    const claim = await near.claim({ stage: "follow", topic: "passes", partition: 0 });
    const output = { topic: "warnings", key: "W-0001", value: JSON.stringify(warning()) };
    await claim.commit({ position: 0, refoldFrom: 0, outputs: [output] });
    const tails = [near, far].map((log) => vi.spyOn(log, "tail"));
    const [ada, ben] = [await deskOn(near, "Ada"), await deskOn(far, "Ben")];
    closing.push(
      () => ada.desk.close(),
      () => ben.desk.close(),
    );
    // A desk that waited for the mark as for a record would have a second reader look for it, from where it stood.
    expect(tails.flatMap((tail) => tail.mock.calls.flatMap(([from]) => from.filter(({ offset }) => offset > 0)))).toEqual([]);
    const beforeMs = Date.now();
    await new Promise((resolve) => setTimeout(resolve, 50));
    const act = (id: string, action: object) => ({ id, warning: "W-0001", seen: { version: 1, actions: 0 }, ...action });
    const answers = await Promise.all([
      ada.client.post("/api/act", act("a/1", { action: "acknowledge" })),
      ben.client.post("/api/act", act("b/1", { action: "assign", to: "Ben" })),
    ]);
    expect(answers.map(({ status }) => status).sort()).toEqual([200, 409]);
    const refused = (await answers.find(({ status }) => status === 409)!.json()) as Problem;
    expect(refused.row!.actions).toBe(1);
    for (const { client } of [ada, ben])
      await expect.poll(async () => (await client.json<OneWarning>("/api/warning?id=W-0001")).actions.length, { timeout: 10_000 }).toBe(1);
    const then = await ada.client.json<Now>(`/api/now?at=${beforeMs}`);
    expect(then.rows.map(({ id, actions }) => [id, actions])).toEqual([["W-0001", 0]]);
  });
});
