import { randomUUID } from "node:crypto";
import type { Admin } from "kafkajs";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { kafkaClient } from "../../../src/log/kafka/client.ts";
import { Cluster, whole } from "../../../src/log/kafka/cluster.ts";
import { KafkaLog } from "../../../src/log/kafka/kafka-log.ts";
import { committedPosition, metadataOf } from "../../../src/log/kafka/position.ts";
import { type KafkaSettings, positionsGroup } from "../../../src/log/kafka/settings.ts";
import type { Position, Source } from "../../../src/log/log.ts";
import { silentLogger } from "../../../src/telemetry/logger.ts";
import { type Broker, brokerKind, startBroker } from "../../broker/broker.ts";
import { waitFor } from "../contract.ts";
import { createTopics, testSettings } from "./bed.ts";
import { CutSockets } from "./cut-sockets.ts";

const found = await brokerKind();
const TOPICS = ["a", "b", "c", "d", "e"];
const PARTITIONS = 4;
const STAGE = "fold";
/** Processes one after the other whose connections are cut at other moments of their start: without a remedy some are told wrong. */
const STARTS = 30;
const CUTS = 3;
const TIMES = 5;

/** Counts what the cluster was asked and has answered, well or not. */
class CountingCluster extends Cluster {
  answers = 0;

  override ask<T>(what: string, question: (admin: Admin) => Promise<T>): Promise<T> {
    return super.ask(what, (admin) => question(admin).finally(() => this.answers++));
  }
}

describe.skipIf("reason" in found)("on a real broker", () => {
  let broker: Broker;
  let settings: KafkaSettings;

  beforeAll(async () => {
    broker = await startBroker();
    settings = testSettings(broker.brokers);
    await createTopics(settings, new Map(TOPICS.map((topic) => [topic, PARTITIONS])));
  });
  afterAll(() => broker.stop());

  it("a process whose connections are cut while it asks where it stands is told what was committed, never that there is none", async () => {
    const sources: Source[] = TOPICS.flatMap((topic) =>
      Array.from({ length: PARTITIONS }, (_, partition) => ({ stage: STAGE, topic, partition })),
    );
    const log = new KafkaLog(settings, silentLogger());
    await Promise.all(sources.map(({ topic, partition }) => log.append([{ topic, key: "k", value: "v", partition }])));
    for (const [at, source] of sources.entries()) {
      const claim = await log.claim(source);
      await claim.commit({ position: at + 1, refoldFrom: at, outputs: [] });
      await claim.release();
    }
    await log.close();
    const wrong: string[] = [];
    for (let start = 0; start < STARTS; start++) {
      const cut = new CutSockets();
      const cluster = new Cluster({ ...settings, socketFactory: cut.factory }, silentLogger());
      let cuts = 0;
      const cutting = setInterval(() => ++cuts <= CUTS && cut.cutAll(), 15 + start);
      const asked = sources.map(async (source, at) => {
        for (let time = 0; time < TIMES; time++) {
          const { position, refoldFrom } = await committedPosition(cluster, source);
          if (position !== at + 1 || refoldFrom !== at) wrong.push(`${source.topic}/${source.partition}: ${position}, ${refoldFrom}`);
          const extent = await cluster.extent(source.topic);
          if (extent.length !== PARTITIONS) wrong.push(`${source.topic} reaches ${JSON.stringify(extent)}`);
        }
      });
      await Promise.all(asked);
      clearInterval(cutting);
      await cluster.close();
    }
    expect(wrong).toEqual([]);
  }, 120_000);

  it("a position whose commit is under way is waited for: the one before it would have outputs said twice", async () => {
    const source: Source = { stage: "under-way", topic: "a", partition: 2 };
    const log = new KafkaLog(settings, silentLogger());
    const claim = await log.claim(source);
    await claim.commit({ position: 1, refoldFrom: 1, outputs: [] });
    const cluster = new CountingCluster(settings, silentLogger());
    const producer = kafkaClient(settings, silentLogger(), "under-way").producer({ transactionalId: randomUUID(), maxInFlightRequests: 1 });
    await producer.connect();
    const transaction = await producer.transaction();
    const metadata = metadataOf({ position: 2, refoldFrom: 2 });
    const topics = [{ topic: cluster.nameOf("a"), partitions: [{ partition: 2, offset: "2", metadata }] }];
    await transaction.sendOffsets({ consumerGroupId: positionsGroup(settings, source.stage), topics });
    let told: Position | null = null;
    const asked = committedPosition(cluster, source).then((position) => {
      told = position;
    });
    // For the partitions once, for the position again and again.
    await waitFor(() => told !== null || cluster.answers >= 3, 30_000);
    expect(told).toBe(null);
    // Of another partition it does not matter.
    expect(await committedPosition(cluster, { ...source, partition: 1 })).toEqual({ position: 0, refoldFrom: 0 });
    await transaction.commit();
    await asked;
    expect(told).toEqual({ position: 2, refoldFrom: 2 });
    await producer.disconnect();
    await claim.release();
    await cluster.close();
    await log.close();
  }, 60_000);

  it("of a group that is asked for all it ever committed, every topic is told", async () => {
    const log = new KafkaLog(settings, silentLogger());
    for (const topic of ["b", "d"]) {
      const claim = await log.claim({ stage: "all", topic, partition: 0 });
      await claim.commit({ position: 3, refoldFrom: 3, outputs: [] });
      await claim.release();
    }
    const cluster = new Cluster(settings, silentLogger());
    const told = await cluster.ask("all positions", (admin) => admin.fetchOffsets({ groupId: positionsGroup(settings, "all") }));
    expect(told.map(({ topic }) => topic).sort()).toEqual(["b", "d"].map((topic) => cluster.nameOf(topic)));
    await cluster.close();
    await log.close();
  }, 60_000);
});

describe("an answer about all partitions", () => {
  it("that leaves some out is none, so that it is asked for again", () => {
    expect(whole(["p0", "p1"], 2)).toEqual(["p0", "p1"]);
    expect(() => whole([], 2)).toThrow("0 of 2");
    expect(() => whole(["p0"], 2)).toThrow("1 of 2");
  });
});
