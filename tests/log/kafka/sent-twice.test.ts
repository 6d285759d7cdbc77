import { createRequire } from "node:module";
import kafkajs from "kafkajs";
import { describe, expect, it, vi } from "vitest";
import type { Cluster } from "../../../src/log/kafka/cluster.ts";
import { KafkaClaim } from "../../../src/log/kafka/kafka-claim.ts";
import { asPlaced, placed, takenOnce, topicMessages } from "../../../src/log/kafka/rounds.ts";
import { type NewRecord, UnknownOutcomeError } from "../../../src/log/log.ts";

const producer = vi.hoisted(() => ({ answers: [] as object[], committed: 0 }));
vi.mock("../../../src/log/kafka/client.ts", () => ({
  kafkaClient: () => ({
    producer: () => ({
      connect: async () => {},
      disconnect: async () => {},
      transaction: async () => ({
        abort: async () => {},
        sendBatch: async () => producer.answers,
        sendOffsets: async () => {},
        commit: async () => {
          producer.committed++;
        },
      }),
    }),
  }),
}));

const inside = createRequire(import.meta.url);

interface Produced {
  topicData: { topic: string; partitions: { partition: number }[] }[];
}

interface Taken {
  topicName: string;
  partition: number;
  errorCode: number;
}

/** kafkajs's own way of sending, over brokers of a test. */
const sendMessages = inside("kafkajs/src/producer/sendMessages") as (parts: object) => (what: object) => Promise<Taken[]>;
const createRetry = inside("kafkajs/src/retry") as (options: object) => unknown;

const logger = { debug: () => {}, error: () => {} };
/** As far as sending asks of it; sequences do not matter here. */
const transaction = {
  isTransactional: () => true,
  acquireBrokerLock: async () => {},
  releaseBrokerLock: async () => {},
  addPartitionsToTransaction: async () => {},
  getSequence: () => 0,
  updateSequence: () => {},
  getTransactionalId: () => "t",
  getProducerId: () => "1",
  getProducerEpoch: () => 0,
};

/** Two brokers with a partition each. The second refuses once; meanwhile the first one's partition goes to it as well. */
class MovingLeader {
  readonly sent: string[] = [];
  private leaders = [1, 2];
  private hasRefused = false;
  private readonly nodes = [1, 2].map((nodeId) => ({ nodeId, produce: async (asked: Produced) => this.produce(nodeId, asked) }));

  readonly cluster = {
    isConnected: () => true,
    addMultipleTargetTopics: async () => {},
    refreshMetadataIfNecessary: async () => {},
    refreshMetadata: async () => {
      this.leaders = [2, 2];
    },
    findTopicPartitionMetadata: () => this.leaders.map((leader, partitionId) => ({ partitionId, leader })),
    findLeaderForPartitions: (_: string, partitions: string[]) =>
      Object.fromEntries(
        [...Map.groupBy(partitions, (partition) => this.leaders[Number(partition)]!)].map(([leader, led]) => [leader, led.map(Number)]),
      ),
    findBroker: async ({ nodeId }: { nodeId: string }) => this.nodes[Number(nodeId) - 1],
  };

  private produce(nodeId: number, { topicData }: Produced) {
    if (nodeId === 2 && !this.hasRefused) {
      this.hasRefused = true;
      throw new kafkajs.KafkaJSProtocolError(
        Object.assign(new Error("not the leader"), { retriable: true, type: "NOT_LEADER_FOR_PARTITION", code: 6 }),
      );
    }
    for (const { topic, partitions } of topicData)
      for (const { partition } of partitions) this.sent.push(`${topic}/${partition} to ${nodeId}`);
    return {
      topics: topicData.map(({ topic, partitions }) => ({
        topicName: topic,
        partitions: partitions.map(({ partition }) => ({ partition, errorCode: 0, baseOffset: "0" })),
      })),
    };
  }
}

describe("a round that kafkajs sends in part a second time", () => {
  it("is known by its answers: what a partition took twice must not be committed", async () => {
    const world = new MovingLeader();
    const retrier = createRetry({ initialRetryTime: 1, maxRetryTime: 2, factor: 0, multiplier: 1, retries: 3 });
    const partitioner = asPlaced;
    const send = sendMessages({ logger, cluster: world.cluster, partitioner: partitioner(), eosManager: transaction, retrier });
    const round = [0, 1].map((partition) => placed({ topic: "passes", key: "k", value: "v" }, "passes", partition));
    const taken = await send({ topicMessages: topicMessages(round), acks: -1 });
    expect(world.sent).toEqual(["passes/0 to 1", "passes/0 to 2", "passes/1 to 2"]);
    expect(() => takenOnce(taken)).toThrow("passes/0 was sent twice");
    expect(() => takenOnce(taken.slice(1))).not.toThrow();
  });

  it("is not committed by a claim, and one that was taken once is", async () => {
    const cluster = {
      settings: { application: "a" },
      check: async () => {},
      partitions: async () => 1,
      nameOf: (topic: string) => topic,
      extent: async () => [{ partition: 0, from: 0, end: 0 }],
      ask: async () => [{ partition: 0, offset: "-1", metadata: null }],
      place: async (outputs: NewRecord[]) => outputs.map((output) => placed(output, output.topic, 0)),
    } as unknown as Cluster;
    const commit = { position: 1, refoldFrom: 1, outputs: [{ topic: "passes", key: "k", value: "v" }] };
    const taken = { topicName: "passes", partition: 0, errorCode: 0 };
    const claimed = () => KafkaClaim.take(cluster, { stage: "s", topic: "in", partition: 0 }, () => {});

    producer.answers = [taken, taken];
    await expect((await claimed()).commit(commit)).rejects.toThrow(UnknownOutcomeError);
    expect(producer.committed).toBe(0);
    producer.answers = [taken];
    await (await claimed()).commit(commit);
    expect(producer.committed).toBe(1);
  });
});
