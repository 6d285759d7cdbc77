import { randomUUID } from "node:crypto";
import { Kafka, logLevel } from "kafkajs";
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

export async function createTopics({ brokers, topicPrefix }: KafkaSettings, topics: ReadonlyMap<string, number>): Promise<void> {
  const admin = new Kafka({ brokers: [...brokers], logLevel: logLevel.NOTHING }).admin();
  await admin.connect();
  await admin.createTopics({
    waitForLeaders: true,
    topics: [...topics].map(([topic, numPartitions]) => ({
      topic: `${topicPrefix}${topic}`,
      numPartitions,
      configEntries: [{ name: "message.timestamp.type", value: "LogAppendTime" }],
    })),
  });
  await admin.disconnect();
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
