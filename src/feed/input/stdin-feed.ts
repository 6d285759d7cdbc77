import * as z from "zod";
import type { Log } from "../../log/log.ts";
import type { Logger } from "../../telemetry/logger.ts";
import type { FeedMetrics } from "../../telemetry/metrics.ts";
import { inbound } from "../decode.ts";
import { type Fates, takeFile } from "./file-intake.ts";
import { Intake } from "./intake.ts";

/** `feed.stdin` of the live configuration. */
export const stdinFeedConfig = z.boolean().describe("Whether records are taken from standard input, as a feed file.");

export interface StdinFeed {
  /** Settles at the end of standard input; with an error when it could not be read to its end. */
  readonly ended: Promise<Fates | Error>;
  /** Reads no further. */
  close(): Promise<void>;
}

interface Parts {
  log: Log;
  logger: Logger;
  metrics: FeedMetrics;
  /** Shared with the other inputs of the process; one of its own when left out. */
  intake?: Intake;
}

/** Standard input as a feed file: plain, gzip or zstd. Its writer waits when the log does. */
export function startStdinFeed({ log, logger, metrics, intake = new Intake(log) }: Parts): StdinFeed {
  const stop = new AbortController();
  const sender = { name: "feed-stdin", topics: new Set<string>(Object.keys(inbound)) };
  logger.info("feed-opened", "Records are taken from standard input.", { input: "stdin" });
  const ended = takeFile({ path: "-", sender, intake, metrics, logger, signal: stop.signal }).then(
    (fates) => {
      logger.info("feed-closed", "Standard input is at its end.", { input: "stdin", ...fates });
      return fates;
    },
    (error: Error) => {
      logger.error("feed-closed", "Standard input could not be read on.", { input: "stdin", error });
      return error;
    },
  );
  return {
    ended,
    close: async () => {
      stop.abort();
      // Ends the wait for a piece that may never come.
      process.stdin.destroy();
      await ended;
    },
  };
}
