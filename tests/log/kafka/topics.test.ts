import { Kafka, logLevel } from "kafkajs";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { kafkaConfig } from "../../../src/log/kafka/kafka-config.ts";
import { lookAtTopics } from "../../../src/log/kafka/topic-admin.ts";
import { findings, type PresentTopic, wantedTopics } from "../../../src/log/kafka/topic-plan.ts";
import { TOPICS } from "../../../src/log/topics.ts";
import { silentLogger } from "../../../src/telemetry/logger.ts";
import { type Broker, brokerKind, startBroker } from "../../broker/broker.ts";

const configOf = (brokers: string[], over: object = {}) => kafkaConfig.parse({ brokers, ...over });

describe("topics as they should be on a cluster", () => {
  const config = configOf(["kafka:9092"], { topicPrefix: "rail.", partitions: { "axle-readings": 12 } });

  it("are those of the definitions, with three replicas of which one may fail, none compacted, each record's time the broker's", () => {
    const wanted = wantedTopics(config, 5);
    expect(wanted.map(({ topic }) => topic)).toEqual(TOPICS.map(({ name }) => `rail.${name}`));
    for (const { replicas, settings } of wanted) {
      expect(replicas).toBe(3);
      expect(settings).toMatchObject({ "min.insync.replicas": "2", "cleanup.policy": "delete", "message.timestamp.type": "LogAppendTime" });
    }
    expect(wanted.find(({ topic }) => topic === "rail.axle-readings")?.partitions).toBe(12);
  });

  it("have as many replicas as there are brokers, and still stand the loss of one where there are two", () => {
    expect(wantedTopics(config, 1).map(({ replicas, settings }) => [replicas, settings["min.insync.replicas"]])[0]).toEqual([1, "1"]);
    expect(wantedTopics(config, 2).map(({ replicas, settings }) => [replicas, settings["min.insync.replicas"]])[0]).toEqual([2, "1"]);
  });

  it("are held against what is there: what is less is said, what is more of retention and safety is not", () => {
    const wanted = wantedTopics(config, 3);
    const there = new Map(wanted.map(({ topic, ...rest }): [string, PresentTopic] => [topic, rest]));
    expect(findings(wanted, there).flatMap(({ differences }) => differences)).toEqual([]);
    const change = (topic: string, to: Partial<PresentTopic>) => there.set(`rail.${topic}`, { ...there.get(`rail.${topic}`)!, ...to });
    change("axle-readings", { partitions: 4 });
    change("passes", { settings: { "retention.ms": "3600000", "cleanup.policy": "compact" } });
    change("warnings", { settings: { "retention.ms": "-1", "min.insync.replicas": "3" } });
    there.delete("rail.rejected");
    const found = findings(wanted, there);
    const of = (topic: string) => found.find((finding) => finding.wanted.topic === `rail.${topic}`)!;
    expect(of("axle-readings").differences).toEqual([expect.stringContaining("4 partitions, configured 12")]);
    expect(of("passes").differences).toEqual([
      expect.stringContaining("cleanup.policy is compact"),
      expect.stringContaining("retention.ms is 3600000"),
    ]);
    expect(of("warnings").differences).toEqual([]);
    expect(of("rejected").present).toBe(null);
  });
});

const found = await brokerKind();

describe.skipIf("reason" in found)("topics on a real broker", () => {
  let broker: Broker;
  beforeAll(async () => {
    broker = await startBroker();
  });
  afterAll(() => broker.stop());

  it("are shown as missing, created once, and left alone from then on", async () => {
    const config = configOf(broker.brokers, { topicPrefix: `test-${Date.now()}.`, replicas: 1, partitions: { passes: 2 } });
    const before = await lookAtTopics(config, silentLogger(), false);
    expect(before.topics.every(({ present }) => present === null)).toBe(true);
    expect(before.created).toEqual([]);

    const made = await lookAtTopics(config, silentLogger(), true);
    expect(made.created).toHaveLength(TOPICS.length);
    expect(made.topics.flatMap(({ differences }) => differences)).toEqual([]);

    const admin = new Kafka({ brokers: broker.brokers, logLevel: logLevel.NOTHING }).admin();
    await admin.connect();
    await admin.createPartitions({ topicPartitions: [{ topic: `${config.topicPrefix}passes`, count: 3 }] });
    await admin.disconnect();
    const again = await lookAtTopics(config, silentLogger(), true);
    expect(again.created).toEqual([]);
    expect(again.topics.flatMap(({ differences }) => differences)).toEqual([expect.stringContaining("3 partitions, configured 2")]);
    expect(again.cautions).toEqual([expect.stringContaining("offsets.retention.minutes")]);
  });
});
