import { renameSync, rmSync } from "node:fs";
import { basename, dirname, join } from "node:path";
import { Command } from "commander";
import { openFeedWriter } from "../feed/feed-writer.ts";
import { CommandError, EXIT } from "../replay/exit-status.ts";
import { momentOf } from "../replay/narrow.ts";
import { OutputUnwritable } from "../replay/outputs.ts";
import { type RecordedDay, recordDay } from "../replay/record-day.ts";
import { loadConfig } from "./config.ts";
import { readableLog } from "./readable-log.ts";

interface Options {
  config: string;
  from?: string;
  to?: string;
  out: string;
}

/** `bearing-rise record`: a stretch of the log as a feed file that `replay` reads. */
export function recordCommand(): Command {
  return new Command("record")
    .description(
      "Takes a stretch of the log, Kafka or embedded, as a feed file: all that came in, and the passes made of it in the order in which they were followed.",
    )
    .requiredOption("--config <file>", "configuration, YAML")
    .requiredOption("--out <file>", "feed file to write; .gz and .zst are packed. An older one of that name is replaced")
    .option("--from <time>", "from this UTC time on, e.g. 2026-03-04; by when the log took a record. Left out: from the oldest there is")
    .option("--to <time>", "up to this UTC time (exclusive). Left out: to what is in the log now")
    .addHelpText(
      "after",
      `
A running process need not be stopped. A replay of the file ends with the warnings that were published live, given that
the stretch begins before the trains it tells of; --recorded-order of replay says every version of them again.

Example:
  bearing-rise record --config deploy/live.yaml --from 2026-03-04 --to 2026-03-05 --out day.jsonl.zst
  bearing-rise replay --line replay-data/line.yaml --rules replay-data/rules/standard --out out day.jsonl.zst`,
    )
    .action(run);
}

async function run({ config: file, from, to, out }: Options): Promise<void> {
  const fromMs = momentOf("--from", from) ?? Number.NEGATIVE_INFINITY;
  const toMs = momentOf("--to", to) ?? Number.POSITIVE_INFINITY;
  if (fromMs >= toMs) throw new CommandError(EXIT.usage, `--from ${from} is not before --to ${to}: nothing could be recorded.`);
  const config = loadConfig(file);
  const log = await readableLog(config);
  // The packing follows from the name's end; a file under its own name is always whole.
  const half = join(dirname(out), `.half-${basename(out)}`);
  const writer = openFeedWriter(half);
  try {
    const day = await recordDay({ log, fromMs, toMs, writer, byArrival: config.railroad.time === "arrival", onProgress });
    await writer.close();
    renameSync(half, out);
    process.stdout.write(wordsOf(day, out));
  } catch (error) {
    rmSync(half, { force: true });
    throw isOfFile(error)
      ? new OutputUnwritable("OUT-003", out, error, "Is there such a folder, may it be written, is the disk full?")
      : error;
  } finally {
    await log.close();
  }
}

/** What the operating system says of the file, not what a log says. */
function isOfFile(error: unknown): boolean {
  const { syscall } = error as { syscall?: unknown };
  return syscall === "open" || syscall === "write" || syscall === "rename";
}

function onProgress(lines: number, arrivedMs: number): void {
  if (process.stderr.isTTY) process.stderr.write(`\r${lines} lines, ${new Date(arrivedMs).toISOString()}`);
}

function wordsOf({ lines, firstMs, lastMs }: RecordedDay, out: string): string {
  if (lines === 0) return `Nothing came in that time; ${out} is empty.\n`;
  return `${lines} lines in ${out}, from ${new Date(firstMs).toISOString()} to ${new Date(lastMs).toISOString()}.\n`;
}
