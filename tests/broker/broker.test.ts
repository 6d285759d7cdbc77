import { Kafka, logLevel } from "kafkajs";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { type Broker, brokerKind, startBroker } from "./broker.ts";

const found = await brokerKind(true);

describe.skipIf("reason" in found)("a broker for tests", () => {
  let broker: Broker;
  beforeAll(async () => {
    broker = await startBroker({ own: true });
  });
  afterAll(() => broker.stop());

  test("is killed and comes back at the same address with what it acknowledged", async () => {
    const kafka = new Kafka({ brokers: broker.brokers, logLevel: logLevel.NOTHING, retry: { retries: 0 } });
    const admin = kafka.admin();
    await admin.createTopics({ topics: [{ topic: "kept", numPartitions: 3 }] });
    await admin.disconnect();

    await broker.kill!();
    await expect(kafka.admin().connect()).rejects.toThrow();
    await broker.start!();

    const again = new Kafka({ brokers: broker.brokers, logLevel: logLevel.NOTHING }).admin();
    expect((await again.fetchTopicMetadata({ topics: ["kept"] })).topics[0]?.partitions).toHaveLength(3);
    await again.disconnect();
  });
});
