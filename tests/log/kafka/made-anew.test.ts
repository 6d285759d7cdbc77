import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { Cluster } from "../../../src/log/kafka/cluster.ts";
import { KafkaLog } from "../../../src/log/kafka/kafka-log.ts";
import type { Worker } from "../../../src/log/log.ts";
import { silentLogger } from "../../../src/telemetry/logger.ts";
import { type Broker, brokerKind, startBroker } from "../../broker/broker.ts";
import { waitFor } from "../contract.ts";
import { createTopics, testSettings } from "./bed.ts";

const found = await brokerKind();
const TOPICS = new Map([["in", 1]]);

describe.skipIf("reason" in found)("a topic that is deleted and made anew while it is read", () => {
  let broker: Broker;
  beforeAll(async () => {
    broker = await startBroker();
  });
  afterAll(() => broker.stop());

  it("ends its reader aloud: its new records have offsets that were read before, and would be passed over in silence", async () => {
    const settings = testSettings(broker.brokers);
    await createTopics(settings, TOPICS);
    const log = new KafkaLog(settings, silentLogger());
    const seen: string[] = [];
    const worker: Worker = {
      assigned: async () => 0,
      records: async (_, { records }) => {
        seen.push(...records.map(({ value }) => Buffer.from(value).toString()));
      },
      revoked: async () => {},
    };
    const append = (words: string[]) => log.append(words.map((value) => ({ topic: "in", key: "k", value })));
    await append(Array.from({ length: 10 }, (_, at) => `old ${at}`));
    const source = { stage: "fold", topic: "in", partition: 0 };
    const claim = await log.claim(source);
    await claim.commit({ position: 10, refoldFrom: 10, outputs: [] });
    const member = await log.work("fold", ["in"], worker);
    let broken: Error | null = null;
    void member.broken.then((error) => {
      broken = error;
    });
    await waitFor(() => seen.length === 10, 30_000);
    const cluster = new Cluster(settings, silentLogger());
    await cluster.ask("to delete", (admin) => admin.deleteTopics({ topics: [cluster.nameOf("in")] }));
    await createTopics(settings, TOPICS);
    await append(["new 0", "new 1", "new 2"]);
    await waitFor(() => broken !== null || seen.length > 10, 60_000);
    expect(broken ?? seen).toMatchObject({ message: expect.stringContaining("ends at 3, before what was read, up to 10") });
    await cluster.close();
    await log.close();
    // Whoever starts then begins with the new records: the cluster has forgotten the position along with the topic.
    const next = new KafkaLog(settings, silentLogger());
    expect((await next.claim(source)).start).toEqual({ position: 0, refoldFrom: 0 });
    await next.close();
  }, 120_000);
});
