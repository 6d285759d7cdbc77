import type { TimeOfFeed } from "../flow/assemble-stage.ts";
import type { Clock } from "../flow/clock.ts";
import { sourcesOf } from "../flow/ticker.ts";
import type { LineBook } from "../line/line-book.ts";
import { type DatedLine, loadLines } from "../line/lines.ts";
import { formatMistakes } from "../line/mistake.ts";
import type { Log } from "../log/log.ts";
import type { Logger } from "../telemetry/logger.ts";
import { type FileWatch, startFileWatch } from "./file-watch.ts";
import { FILE_KEPT_MS, goneRefusalOf, refusalOf, sizeRefusalOf } from "./line-refusal.ts";

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
 * still to come are announced too, so that a recorded day holds them. A state once known stays as it was, and its file
 * where it was.
 */
export async function startLineWatch(parts: LineWatchParts): Promise<FileWatch> {
  const { clock, logger } = parts;
  const looks = new LineLooks(parts);
  const failed = (error: unknown) => logger.warn("log-failed", "a change of the line could not be announced; it will be", { error });
  const watch = startFileWatch({ path: parts.path, clock, changed: () => looks.changed(), failed, looked: () => looks.looked() });
  await watch.look().catch(failed);
  return watch;
}

/** What the looks at the files know of each other; one goes on at a time. */
class LineLooks {
  private readonly parts: LineWatchParts;
  /** By date: contents as JSON of what was read at the start or taken since. */
  private readonly known: Map<number, string>;
  /** The same of what went into some partitions, perhaps not into all. */
  private readonly begun = new Map<number, string>();
  /** Read at the start, not announced yet. */
  private readonly toCome: DatedLine[];

  constructor(parts: LineWatchParts) {
    const { dated, time, clock } = parts;
    this.parts = parts;
    this.known = new Map(dated.map((line) => [line.railroad.fromMs, JSON.stringify(line.contents)]));
    this.toCome = time === "arrival" ? dated.filter(({ railroad }) => railroad.fromMs > clock.now()) : [];
  }

  async looked(): Promise<void> {
    const { book, clock, isAnnouncing, logger, path } = this.parts;
    book.turn(clock.now());
    for (let line = this.toCome[0]; line !== undefined; line = this.toCome[0]) {
      const why = isAnnouncing ? sizeRefusalOf(line, this.bytesBeside(line, line.railroad.fromMs)) : null;
      if (why === null) await announce(line, this.parts);
      else logger.warn("line-refused", why, { path });
      this.toCome.shift();
    }
  }

  async changed(): Promise<void> {
    const { path, book, time, clock, logger } = this.parts;
    const { dated, mistakes } = loadLines(path);
    const gone =
      time === "arrival" ? goneRefusalOf([...this.known.keys(), ...this.begun.keys()], dated, { book, nowMs: clock.now() }) : null;
    if (mistakes.length > 0) logger.warn("line-refused", `the line is left as it is: ${formatMistakes(mistakes)}`, { path });
    else if (gone !== null) logger.warn("line-refused", gone, { path });
    else for (const line of dated) await this.take(line);
  }

  private async take(line: DatedLine): Promise<void> {
    const { book, time, clock, logger, path } = this.parts;
    const { fromMs } = line.railroad;
    const json = JSON.stringify(line.contents);
    if (this.known.get(fromMs) === json) return;
    const besideBytes = this.bytesBeside(line, Number.POSITIVE_INFINITY);
    const why = refusalOf(line, { book, time, nowMs: clock.now(), hasBegun: this.begun.get(fromMs) === json, besideBytes });
    if (why !== null) {
      logger.warn("line-refused", why, { path });
      return;
    }
    this.begun.set(fromMs, json);
    await announce(line, this.parts);
    this.known.set(fromMs, json);
    this.begun.delete(fromMs);
    book.take(line.railroad);
    logger.info("line-changed", `the line of ${new Date(fromMs).toISOString()} is announced and in force from then on`, { path });
  }

  /** How much is restated beside a state, of those known from before `untilMs`. */
  private bytesBeside({ railroad }: DatedLine, untilMs: number): number {
    const { book, clock } = this.parts;
    const neededMs = book.at(clock.now() - FILE_KEPT_MS).fromMs;
    let bytes = 0;
    for (const [fromMs, json] of this.known)
      if (fromMs >= neededMs && fromMs < untilMs && fromMs !== railroad.fromMs) bytes += Buffer.byteLength(json);
    return bytes;
  }
}

/** Into every inbound partition: whoever folds one takes the state at a place in its own order. */
async function announce({ contents }: DatedLine, { log, clock, isAnnouncing }: LineWatchParts): Promise<void> {
  if (!isAnnouncing) return;
  const value = JSON.stringify({ type: "line", time: new Date(clock.now()).toISOString(), line: contents });
  await log.append((await sourcesOf(log)).map(({ topic, partition }) => ({ topic, key: "", partition, value })));
}
