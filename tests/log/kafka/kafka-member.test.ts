import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { Cluster } from "../../../src/log/kafka/cluster.ts";
import { KafkaLog } from "../../../src/log/kafka/kafka-log.ts";
import { KafkaMember } from "../../../src/log/kafka/kafka-member.ts";
import { MemberName } from "../../../src/log/kafka/member-name.ts";
import { membersGroup } from "../../../src/log/kafka/settings.ts";
import type { Source, Worker } from "../../../src/log/log.ts";
import { silentLogger } from "../../../src/telemetry/logger.ts";
import { type Broker, brokerKind, startBroker } from "../../broker/broker.ts";
import { waitFor } from "../contract.ts";
import { createTopics, testSettings } from "./bed.ts";

const found = await brokerKind();
const STAGE = "fold";
const SOURCE: Source = { stage: STAGE, topic: "in", partition: 0 };
const RECORDS = 10;

/** Whose answers about how far a topic reaches come in the order that a test gives them. */
class LateCluster extends Cluster {
  readonly late: (() => void)[] = [];
  isLate = false;

  override async extent(topic: string) {
    const extent = await super.extent(topic);
    if (this.isLate) await new Promise<void>((resolve) => this.late.push(resolve));
    return extent;
  }
}

describe.skipIf("reason" in found)("a member on a real broker", () => {
  let broker: Broker;
  beforeAll(async () => {
    broker = await startBroker();
  });
  afterAll(() => broker.stop());

  it("reads from where it was told last, in whatever order the cluster answers what it is asked before", async () => {
    const settings = testSettings(broker.brokers);
    await createTopics(settings, new Map([["in", 1]]));
    const log = new KafkaLog(settings, silentLogger());
    await log.append(Array.from({ length: RECORDS }, (_, at) => ({ topic: "in", key: "k", value: String(at) })));
    const seen: number[] = [];
    const worker: Worker = {
      assigned: async () => 0,
      records: async (_, { records }) => {
        seen.push(...records.map(({ offset }) => offset));
      },
      revoked: async () => {},
    };
    const cluster = new LateCluster(settings, silentLogger());
    const group = membersGroup(settings, STAGE);
    const member = new KafkaMember(cluster, { group, stage: STAGE, topics: ["in"], name: new MemberName(undefined, group) }, worker);
    await member.start();
    try {
      await waitFor(() => seen.length === RECORDS, 30_000);
      seen.length = 0;
      cluster.isLate = true;
      // It paced itself, and then its commit failed: it must fold again from further back.
      member.resume(SOURCE, 8);
      await waitFor(() => cluster.late.length === 1, 30_000);
      member.pause(SOURCE);
      member.resume(SOURCE, 2);
      await waitFor(() => cluster.late.length === 2, 30_000);
      cluster.isLate = false;
      cluster.late[1]!();
      cluster.late[0]!();
      await waitFor(() => seen.includes(RECORDS - 1), 30_000);
      expect(seen).toEqual([2, 3, 4, 5, 6, 7, 8, 9]);
      // Held after it was told to go on: nothing may come of that.
      seen.length = 0;
      cluster.isLate = true;
      member.resume(SOURCE, 0);
      await waitFor(() => cluster.late.length === 3, 30_000);
      member.pause(SOURCE);
      cluster.isLate = false;
      cluster.late[2]!();
      member.resume(SOURCE, 5);
      await waitFor(() => seen.includes(RECORDS - 1), 30_000);
      expect(seen).toEqual([5, 6, 7, 8, 9]);
    } finally {
      await member.leave();
      await cluster.close();
      await log.close();
    }
  });
});
