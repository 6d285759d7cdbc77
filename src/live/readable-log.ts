import { existsSync } from "node:fs";
import { logFile } from "../log/sqlite/layout.ts";
import { openSqliteReader, type ReadableLog } from "../log/sqlite/sqlite-reader.ts";
import { CommandError, EXIT } from "../replay/exit-status.ts";
import { createLogger } from "../telemetry/logger.ts";
import type { LiveConfig } from "./config.ts";
import { openLog } from "./open-log.ts";

/** The log of a configuration, to read; the embedded one beside the process that has it open. @throws CommandError where there is none */
export async function readableLog(config: LiveConfig): Promise<ReadableLog> {
  if ("kafka" in config.log) return await openLog(config, createLogger({ level: "error" }));
  if (!existsSync(logFile(config.dataFolder))) {
    throw new CommandError(
      EXIT.feed,
      `bearing-rise: there is no log in ${config.dataFolder}. Has the process with this configuration ever run?`,
    );
  }
  return openSqliteReader(config.dataFolder);
}
