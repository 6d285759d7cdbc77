import { existsSync, lstatSync, mkdirSync, readdirSync, renameSync, type Stats } from "node:fs";
import { join } from "node:path";
import { setTimeout as pause } from "node:timers/promises";
import * as z from "zod";
import type { Log } from "../../log/log.ts";
import type { Logger } from "../../telemetry/logger.ts";
import type { FeedMetrics } from "../../telemetry/metrics.ts";
import { inbound } from "../decode.ts";
import { FeedUnreadable } from "../feed-unreadable.ts";
import { takeFile } from "./file-intake.ts";
import { forgetLinesDone, keepLinesDone, linesDone } from "./file-progress.ts";
import { Intake } from "./intake.ts";

/** `feed.folder` of the live configuration. */
export const folderFeedConfig = z.strictObject({
  path: z.string().min(1).describe("Folder of feed files: JSON Lines, plain, gzip or zstd. Taken in the order of their names."),
  pollSeconds: z.number().gte(0.05).lte(3_600).default(2).describe("How often the folder is looked through."),
  quietSeconds: z
    .number()
    .gte(0)
    .lte(3_600)
    .default(2)
    .describe("A file is taken when it has not changed for so long. 0 where files are moved into the folder whole."),
});
export type FolderFeedConfig = z.infer<typeof folderFeedConfig>;

/** Files seen in one look; the rest has its turn when these are done. */
const MOST_FILES = 10_000;
/** A file whose name is not ready yet: hidden, or on its way. */
const UNREADY = /^\.|\.(part|tmp|filepart|crdownload)$/i;
/** A failed look (the folder is not there, a file cannot be moved) is tried again after so long. */
const MISHAP_MS = 5_000;
const TOPICS: ReadonlySet<string> = new Set(Object.keys(inbound));

export interface FolderFeed {
  /** Resolves when the batch under way is durable. What is not done yet goes on where it stopped, at the next start. */
  close(): Promise<void>;
}

interface Parts {
  config: FolderFeedConfig;
  log: Log;
  logger: Logger;
  metrics: FeedMetrics;
  /** Shared with the other inputs of the process; one of its own when left out. */
  intake?: Intake;
}

/**
 * A watched folder. A file goes into the log from its first line to its last and is then moved to `done/`; one that
 * cannot be read to its end goes to `failed/`, with all that could be read of it in the log.
 *
 *     NAME ─► read, batch by batch ─► all durable ─► done/NAME
 *                                └─► broke off ──► failed/NAME
 */
export function startFolderFeed(parts: Parts): FolderFeed {
  const { config, logger } = parts;
  for (const folder of ["done", "failed"]) mkdirSync(join(config.path, folder), { recursive: true });
  const stop = new AbortController();
  const intake = parts.intake ?? new Intake(parts.log);
  logger.info("feed-opened", `Feed files are taken from ${config.path}.`, { input: "folder", path: config.path });
  const running = watch({ ...parts, intake }, stop.signal);
  return {
    close: async () => {
      stop.abort();
      await running;
      logger.info("feed-closed", "No more feed files are taken.", { input: "folder" });
    },
  };
}

async function watch(parts: Required<Parts>, signal: AbortSignal): Promise<void> {
  const { config, logger } = parts;
  while (!signal.aborted) {
    let waitMs = config.pollSeconds * 1_000;
    try {
      for (const name of filesReady(config)) {
        if (signal.aborted) return;
        await takeOne(name, parts, signal);
      }
    } catch (error) {
      logger.error("feed-file-failed", "The folder could not be gone through; it is tried again.", { input: "folder", error });
      waitMs = Math.max(waitMs, MISHAP_MS);
    }
    await pause(waitMs, undefined, { signal }).catch(() => {});
  }
}

function filesReady({ path, quietSeconds }: FolderFeedConfig): string[] {
  const before = Date.now() - quietSeconds * 1_000;
  const ready: string[] = [];
  for (const { name } of readdirSync(path, { withFileTypes: true }).filter((entry) => entry.isFile() && !UNREADY.test(entry.name))) {
    // It may have been moved on by another process meanwhile.
    const status = lstatSync(join(path, name), { throwIfNoEntry: false });
    if (status?.isFile() === true && status.mtimeMs <= before) ready.push(name);
  }
  return ready.sort().slice(0, MOST_FILES);
}

async function takeOne(name: string, parts: Required<Parts>, signal: AbortSignal): Promise<void> {
  const { config, logger, intake, metrics } = parts;
  const path = join(config.path, name);
  const status = lstatSync(path, { throwIfNoEntry: false });
  if (status === undefined) return;
  const progress = join(config.path, `.${name}.progress`);
  const skipLines = linesDone(progress, status);
  logger.info("feed-file-taken", `${name} is read from line ${skipLines + 1} on.`, { file: name, bytes: status.size });
  const keep = (lines: number) => keepLinesDone(progress, status, lines);
  try {
    const sender = { name: `feed-file/${name}`, topics: TOPICS };
    const fates = await takeFile({
      path,
      sender,
      intake,
      metrics,
      logger,
      signal,
      skipLines,
      onDurable: ({ lines }) => keep(lines),
    });
    if (signal.aborted) return;
    move(config.path, name, "done", progress, status);
    logger.info("feed-file-done", `${name} is in the log.`, { file: name, ...fates });
  } catch (error) {
    if (!(error instanceof FeedUnreadable)) throw error;
    move(config.path, name, "failed", progress, status);
    logger.error("feed-file-failed", error.message, { file: name, code: error.code, line: error.line });
  }
}

/** Out of the way, never over a file of the same name. One that grew meanwhile stays, and is read on. */
function move(folder: string, name: string, to: "done" | "failed", progress: string, taken: Stats): void {
  const path = join(folder, name);
  const now = lstatSync(path, { throwIfNoEntry: false });
  if (now === undefined) return;
  if (now.size !== taken.size || now.mtimeMs !== taken.mtimeMs) return;
  let target = join(folder, to, name);
  for (let copy = 2; existsSync(target); copy++) target = join(folder, to, `${name}.${copy}`);
  renameSync(path, target);
  forgetLinesDone(progress);
}
