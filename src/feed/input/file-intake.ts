import { setTimeout as pause } from "node:timers/promises";
import { NoRoomError, OverloadedError, UnknownOutcomeError } from "../../log/log.ts";
import type { Logger } from "../../telemetry/logger.ts";
import type { FeedMetrics } from "../../telemetry/metrics.ts";
import { FeedBytes } from "../feed-bytes.ts";
import { FeedUnreadable, unreadableCode } from "../feed-unreadable.ts";
import type { Answer, Fate, Intake, Sender } from "./intake.ts";
import type { Offer } from "./offer.ts";
import { RawLines } from "./raw-lines.ts";

/** Records offered at once, in records and in bytes: large enough that a commit to disk is shared by many. */
const BATCH_RECORDS = 2_000;
const BATCH_BYTES = 1024 * 1024;
/** How long the log is left alone when it has too much waiting or did not answer, and when it has no room. */
const OVERLOADED_MS = 200;
const NO_ROOM_MS = 5_000;

/** How far a file is durable. */
export interface FileProgress {
  /** Lines whose records are in the log, or were refused there. */
  lines: number;
}

export interface FileIntake {
  path: string;
  sender: Sender;
  intake: Intake;
  metrics: FeedMetrics;
  logger: Logger;
  signal: AbortSignal;
  /** Lines durable from an earlier try: passed over. */
  skipLines?: number;
  /** After each batch that is durable. */
  onDurable?: (progress: FileProgress) => void;
}

export type Fates = Record<Fate, number>;

/**
 * A feed file, or standard input (`-`), into the log, batch by batch, each offered when the one before is durable.
 * Ends early, without an error, when the signal aborts.
 * @throws FeedUnreadable after all that could be read is durable; what `Log.append` throws for good
 */
export async function takeFile(options: FileIntake): Promise<Fates> {
  const fates: Fates = { accepted: 0, repeated: 0, refused: 0, own: 0 };
  const bytes = new FeedBytes(options.path);
  const lines = new RawLines();
  let batch: Offer[] = [];
  let size = 0;
  const flush = async () => {
    if (batch.length === 0) return;
    for (const { fate } of await takePatiently(batch, options)) fates[fate]++;
    if (!options.signal.aborted) options.onDurable?.({ lines: batch.at(-1)!.line });
    batch = [];
    size = 0;
  };
  const add = async (offers: readonly Offer[]) => {
    for (const offer of offers) {
      if (offer.line <= (options.skipLines ?? 0)) continue;
      batch.push(offer);
      size += offer.value.length;
      if (batch.length >= BATCH_RECORDS || size >= BATCH_BYTES) await flush();
      if (options.signal.aborted) return;
    }
  };
  const pieces = bytes[Symbol.asyncIterator]();
  try {
    for (;;) {
      const piece = await pieces.next().catch((cause: unknown) => new BrokeOff(cause));
      if (piece instanceof BrokeOff) {
        await flush();
        // An unfinished last line is left out: the error says where the feed broke off.
        throw new FeedUnreadable(unreadableCode(piece.cause), options.path, lines.lines, bytes.bytesRead, piece.cause);
      }
      if (piece.done) break;
      await add(lines.cut(piece.value));
      // Standard input trickles: what came is not held back for what may come.
      if (options.path === "-") await flush();
      if (options.signal.aborted) return fates;
    }
  } finally {
    await pieces.return(undefined);
  }
  await add(lines.end());
  await flush();
  return fates;
}

/** The file, not the log, could not be read on. */
class BrokeOff {
  readonly cause: unknown;
  constructor(cause: unknown) {
    this.cause = cause;
  }
}

/**
 * A file can wait: it is offered again until the log takes it, also where nobody can tell whether it did. Standard input
 * cannot be sent a second time, and what is in the log twice the folds drop.
 */
async function takePatiently(batch: readonly Offer[], { intake, sender, metrics, logger, signal }: FileIntake): Promise<Answer[]> {
  for (;;) {
    if (signal.aborted) return [];
    try {
      return await intake.take(batch, sender, metrics);
    } catch (error) {
      if (!isForAWhile(error)) throw error;
      logger.warn("log-overloaded", `${whyItWaits(error)}; the file waits.`, { input: sender.name });
      await pause(error instanceof NoRoomError ? NO_ROOM_MS : OVERLOADED_MS, undefined, { signal }).catch(() => {});
    }
  }
}

type ForAWhile = OverloadedError | NoRoomError | UnknownOutcomeError;

function isForAWhile(error: unknown): error is ForAWhile {
  return error instanceof OverloadedError || error instanceof NoRoomError || error instanceof UnknownOutcomeError;
}

function whyItWaits(error: ForAWhile): string {
  if (error instanceof NoRoomError) return "The log has no room";
  return error instanceof OverloadedError ? "The log has too much waiting" : "The log does not say what it took";
}
