import { RECORD_BYTES } from "../feed/limits.ts";
import type { TimeOfFeed } from "../flow/assemble-stage.ts";
import { AHEAD_OF_ARRIVAL_MS } from "../flow/in-time.ts";
import { canBeHandedOn, MOST_ANNOUNCED_BYTES } from "../flow/line-announced.ts";
import type { LineBook } from "../line/line-book.ts";
import { RESTART_ADVICE } from "../line/line-change.ts";
import type { DatedLine } from "../line/lines.ts";
import type { Mistake } from "../line/mistake.ts";
import type { Railroad } from "../line/railroad.ts";

/** A change is announced at least this long before its date, so that no reading of after it is read before it. */
export const LINE_LEAD_MS = AHEAD_OF_ARRIVAL_MS;

/** A file may go when its state was over for so long: nothing is folded again from before that, and it is not restated. */
export const FILE_KEPT_MS = 48 * 3_600_000;

/** Type and time beside the contents of an announcement. */
const ENVELOPE_BYTES = 200;

const MOST_WORDS = `${MOST_ANNOUNCED_BYTES / 1024 / 1024} MiB`;

/** What is known of a state when it is judged. */
export interface Standing {
  book: LineBook;
  time: TimeOfFeed;
  nowMs: number;
  /** A part of its announcement is out. */
  hasBegun: boolean;
  /** Of the states that are restated beside it. */
  besideBytes: number;
}

/** Why a state is not taken while running, with what to do; null when it is. */
export function refusalOf(line: DatedLine, { book, time, nowMs, hasBegun, besideBytes }: Standing): string | null {
  const { fromMs } = line.railroad;
  const date = dateOf(fromMs);
  if (book.has(fromMs))
    return `${date} says other things than when it was taken: put the change into a file of its own in a folder, with a later \`from\`.`;
  if (time === "feed") return `${date} is taken at the next start: where recorded days are fed in, nobody can say when it is to come.`;
  // What some partitions were told already, the others must be told too.
  if (!hasBegun && fromMs < nowMs + LINE_LEAD_MS) {
    const least = new Date(nowMs + LINE_LEAD_MS).toISOString();
    return `${date} comes too late: readings of after it may have been read already. Give it a \`from\` after ${least}, or stop bearing-rise and start it with the file.`;
  }
  const hindrances = book.hindrancesTo(line.railroad);
  if (hindrances.length > 0) return `${date} cannot be taken while running: ${hindrances.join("; ")}. ${RESTART_ADVICE}`;
  return sizeRefusalOf(line, besideBytes);
}

/**
 * Why a state is too large to be announced; null when it is not. All corridors are told of one state in one commit, and one
 * corridor restates all of its states in one: neither may be larger than a commit takes.
 */
export function sizeRefusalOf({ railroad, contents }: DatedLine, besideBytes: number): string | null {
  const bytes = Buffer.byteLength(JSON.stringify(contents)) + ENVELOPE_BYTES;
  const corridors = railroad.corridors.length;
  let most: string;
  if (bytes > RECORD_BYTES) most = `a record may be (${RECORD_BYTES / 1024} KiB as JSON)`;
  else if (!canBeHandedOn(bytes, corridors)) most = `${corridors} corridors can be told at once (${MOST_WORDS} for all of them)`;
  else if (bytes + besideBytes > MOST_ANNOUNCED_BYTES) most = `there is room for beside the other states (${MOST_WORDS} for all of them)`;
  else return null;
  return `${dateOf(railroad.fromMs)} is larger than ${most}, so it cannot be announced: it holds once bearing-rise is started with its file, and a recorded day lacks it.`;
}

/** Why nothing is taken while a file of a known state is gone: at the next start its time would be told by another. Null: none is. */
export function goneRefusalOf(
  known: Iterable<number>,
  dated: readonly DatedLine[],
  { book, nowMs }: { book: LineBook; nowMs: number },
): string | null {
  const neededMs = book.at(nowMs - FILE_KEPT_MS).fromMs;
  const gone = [...known].filter((fromMs) => fromMs >= neededMs && !dated.some(({ railroad }) => railroad.fromMs === fromMs));
  if (gone.length === 0) return null;
  return `${gone.map(dateOf).join(", ")} is no longer there, and nothing is taken while it is not: at the next start another state would hold in its time, too early. Put its file back, and keep the old file beside the new one, in a folder.`;
}

/** A mistake when a process that goes by the time of arrival would begin before the first state of its line; null when not. */
export function lineAhead(path: string, dated: readonly DatedLine[], nowMs: number): Mistake | null {
  const firstMs = Math.min(...dated.map(({ railroad }) => railroad.fromMs));
  if (!(firstMs > nowMs)) return null;
  return {
    code: "line-still-to-come",
    file: path,
    line: 1,
    column: 1,
    path: "from",
    says: `nothing says what the line is before ${new Date(firstMs).toISOString()}, which is still to come`,
    expected: "a state that holds now",
    advice: "Keep the old file beside the new one, in a folder; or take `from` out of the only file.",
  };
}

function dateOf(fromMs: Railroad["fromMs"]): string {
  return Number.isFinite(fromMs) ? `The line of ${new Date(fromMs).toISOString()}` : "The line without a date";
}
