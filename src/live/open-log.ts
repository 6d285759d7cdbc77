import { accessSync, constants } from "node:fs";
import { kafkaSettings } from "../log/kafka/kafka-config.ts";
import { KafkaLog } from "../log/kafka/kafka-log.ts";
import type { Log } from "../log/log.ts";
import { openSqliteLog } from "../log/sqlite/sqlite-log.ts";
import { partitionsOf, TOPICS } from "../log/topics.ts";
import { CommandError, EXIT } from "../replay/exit-status.ts";
import { makeFolder } from "../replay/make-folder.ts";
import type { Logger } from "../telemetry/logger.ts";
import { type LiveConfig, mostBytesOf } from "./config.ts";

/** Opens the log that the configuration names. @throws CommandError, Error that says what is wrong with it, LogInUseError */
export async function openLog({ log, dataFolder }: LiveConfig, logger: Logger): Promise<Log> {
  writable(dataFolder);
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

function writable(dataFolder: string): void {
  try {
    makeFolder(dataFolder);
    accessSync(dataFolder, constants.R_OK | constants.W_OK | constants.X_OK);
  } catch (error) {
    throw new CommandError(
      EXIT.output,
      `bearing-rise: dataFolder ${dataFolder} cannot be made or written: ${(error as Error).message}. Name another in the configuration, or let this user write there.`,
    );
  }
}
