import { randomUUID } from "node:crypto";
import { Cluster } from "../../../src/log/kafka/cluster.ts";
import { KafkaLog } from "../../../src/log/kafka/kafka-log.ts";
import type { KafkaSettings } from "../../../src/log/kafka/settings.ts";
import type { Log } from "../../../src/log/log.ts";
import { silentLogger } from "../../../src/telemetry/logger.ts";
import type { LogBed } from "../contract.ts";
import { CutSockets } from "./cut-sockets.ts";

/** Settings under which no two tests meet on one cluster. */
export function testSettings(brokers: readonly string[]): KafkaSettings {
  const name = randomUUID().slice(0, 8);
  return { brokers, application: `test-${name}`, topicPrefix: `test-${name}.`, sessionTimeoutMs: 6_000 };
}

export async function createTopics(settings: KafkaSettings, topics: ReadonlyMap<string, number>): Promise<void> {
  const { topicPrefix } = settings;
  const cluster = new Cluster(settings, silentLogger());
  // A broker that has just come back takes a moment.
  await cluster.ask("whether the topics are there", (admin) =>
    admin.createTopics({
      waitForLeaders: true,
      topics: [...topics].map(([topic, numPartitions]) => ({
        topic: `${topicPrefix}${topic}`,
        numPartitions,
        configEntries: [{ name: "message.timestamp.type", value: "LogAppendTime" }],
      })),
    }),
  );
  await cluster.close();
}

/** A fresh log with these topics on a broker. */
export async function kafkaBed(
  brokers: readonly string[],
  topics: ReadonlyMap<string, number>,
): Promise<LogBed & { settings: KafkaSettings }> {
  const settings = testSettings(brokers);
  await createTopics(settings, topics);
  const sockets = new Map<Log, CutSockets>();
  return {
    settings,
    connect: async ({ waitingBytes } = {}) => {
      const cut = new CutSockets();
      const log = new KafkaLog({ ...settings, socketFactory: cut.factory }, silentLogger(), waitingBytes);
      sockets.set(log, cut);
      return log;
    },
    close: async () => {},
    loseAnswer: async (log, how) => {
      sockets.get(log)!.loseNextEnd(how);
      return how;
    },
  };
}
