import { mkdirSync } from "node:fs";
import { kafkaSettings } from "../log/kafka/kafka-config.ts";
import { KafkaLog } from "../log/kafka/kafka-log.ts";
import type { Log } from "../log/log.ts";
import { openSqliteLog } from "../log/sqlite/sqlite-log.ts";
import { partitionsOf, TOPICS } from "../log/topics.ts";
import type { Logger } from "../telemetry/logger.ts";
import { type LiveConfig, mostBytesOf } from "./config.ts";

/** Opens the log that the configuration names. @throws Error that says what is wrong with it, LogInUseError */
export async function openLog({ log, dataFolder }: LiveConfig, logger: Logger): Promise<Log> {
  mkdirSync(dataFolder, { recursive: true });
  if ("kafka" in log) {
    const { brokers } = log.kafka;
    logger.info("log-opened", `the log is Kafka at ${brokers.join(", ")}`, { brokers });
    return new KafkaLog(kafkaSettings(log.kafka, dataFolder), logger);
  }
  const opened = await openSqliteLog({
    folder: dataFolder,
    partitions: partitionsOf(log.embedded.partitions),
    retentionMs: new Map(TOPICS.map(({ name, retentionMs }) => [name, retentionMs])),
    mostBytes: mostBytesOf(log.embedded),
    trimmed: (records) => logger.info("log-trimmed", "records older than their topic keeps were taken out", { records }),
  });
  logger.info("log-opened", `the log is a file in ${dataFolder}`, { dataFolder });
  return opened;
}
