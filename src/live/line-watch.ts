import { RECORD_BYTES } from "../feed/limits.ts";
import type { TimeOfFeed } from "../flow/assemble-stage.ts";
import type { Clock } from "../flow/clock.ts";
import { AHEAD_OF_ARRIVAL_MS } from "../flow/in-time.ts";
import { sourcesOf } from "../flow/ticker.ts";
import type { LineBook } from "../line/line-book.ts";
import { RESTART_ADVICE } from "../line/line-change.ts";
import { type DatedLine, loadLines } from "../line/lines.ts";
import { formatMistakes } from "../line/mistake.ts";
import type { Log } from "../log/log.ts";
import type { Logger } from "../telemetry/logger.ts";
import { type FileWatch, startFileWatch } from "./file-watch.ts";

/** A change is announced at least this long before its date, so that no reading of after it is read before it. */
export const LINE_LEAD_MS = AHEAD_OF_ARRIVAL_MS;

export interface LineWatchParts {
  /** The line file, or the folder of dated ones. */
  path: string;
  /** What was read there at the start. */
  dated: readonly DatedLine[];
  /** What this process began with; what is announced is added. */
  book: LineBook;
  time: TimeOfFeed;
  /** Whether this process folds: else it only shows, and takes in what others announce. */
  isAnnouncing: boolean;
  log: Log;
  clock: Clock;
  logger: Logger;
}

/**
 * Looks at the line while running. A new dated file without mistakes, that can follow those known, is announced in every
 * inbound partition, and from its own date on every stage works by it, live as in a replay. States of the start that are
 * still to come are announced too, so that a recorded day holds them. A state once known stays as it was.
 */
export async function startLineWatch(parts: LineWatchParts): Promise<FileWatch> {
  const { path, book, clock, logger } = parts;
  const known = new Map(parts.dated.map(({ railroad, contents }) => [railroad.fromMs, JSON.stringify(contents)]));
  let toCome = parts.time === "arrival" ? parts.dated.filter(({ railroad }) => railroad.fromMs > clock.now()) : [];
  const announceToCome = async () => {
    for (const line of toCome) await announce(line, parts);
    toCome = [];
  };
  const failed = (error: unknown) => logger.warn("log-failed", "a change of the line could not be announced; it will be", { error });
  const watch = startFileWatch({
    path,
    clock,
    changed: async () => {
      const { dated, mistakes } = loadLines(path);
      if (mistakes.length > 0) logger.warn("line-refused", `the line is left as it is: ${formatMistakes(mistakes)}`, { path });
      for (const line of dated) await take(line, known, parts);
    },
    failed,
    looked: () => {
      book.turn(clock.now());
      if (toCome.length > 0) void announceToCome().catch(failed);
    },
  });
  book.turn(clock.now());
  await announceToCome().catch(failed);
  return watch;
}

async function take(line: DatedLine, known: Map<number, string>, parts: LineWatchParts): Promise<void> {
  const { book, logger, path } = parts;
  const { fromMs } = line.railroad;
  const json = JSON.stringify(line.contents);
  if (known.get(fromMs) === json) return;
  const why = refusalOf(line, json, parts);
  if (why !== null) {
    logger.warn("line-refused", why, { path });
    return;
  }
  await announce(line, parts);
  known.set(fromMs, json);
  book.take(line.railroad);
  logger.info("line-changed", `the line of ${new Date(fromMs).toISOString()} is announced and in force from then on`, { path });
}

/** Why a state is not taken while running, with what to do; null when it is. */
function refusalOf({ railroad }: DatedLine, json: string, { book, time, clock }: LineWatchParts): string | null {
  const { fromMs } = railroad;
  const date = Number.isFinite(fromMs) ? `The line of ${new Date(fromMs).toISOString()}` : "The line without a date";
  if (book.has(fromMs))
    return `${date} says other things than when it was taken: put the change into a file of its own in a folder, with a later \`from\`.`;
  if (time === "feed") return `${date} is taken at the next start: where recorded days are fed in, nobody can say when it is to come.`;
  if (fromMs < clock.now() + LINE_LEAD_MS) {
    const least = new Date(clock.now() + LINE_LEAD_MS).toISOString();
    return `${date} comes too late: readings of after it may have been read already. Give it a \`from\` after ${least}, or stop bearing-rise and start it with the file.`;
  }
  const hindrances = book.hindrancesTo(railroad);
  if (hindrances.length > 0) return `${date} cannot be taken while running: ${hindrances.join("; ")}. ${RESTART_ADVICE}`;
  if (Buffer.byteLength(json) > RECORD_BYTES - ENVELOPE_BYTES)
    return `${date} is larger than a record may be (${RECORD_BYTES / 1024} KiB as JSON), so it cannot be announced: it is taken at the next start.`;
  return null;
}

/** Type and time beside the contents. */
const ENVELOPE_BYTES = 200;

/** Into every inbound partition: whoever folds one takes the state at a place in its own order. */
async function announce({ contents }: DatedLine, { log, clock, isAnnouncing }: LineWatchParts): Promise<void> {
  if (!isAnnouncing) return;
  const value = JSON.stringify({ type: "line", time: new Date(clock.now()).toISOString(), line: contents });
  await log.append((await sourcesOf(log)).map(({ topic, partition }) => ({ topic, key: "", partition, value })));
}
