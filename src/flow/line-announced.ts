import { createHash } from "node:crypto";
import { isDeepStrictEqual } from "node:util";
import type { LineAnnounced } from "../feed/record.ts";
import type { Refusal } from "../feed/reject.ts";
import type { LineBook } from "../line/line-book.ts";
import { RESTART_ADVICE } from "../line/line-change.ts";
import { railroadOfContents } from "../line/line-file.ts";
import type { Railroad } from "../line/railroad.ts";
import { partsOf } from "../line/railroad-of.ts";

/**
 * An announcement goes to every corridor in one commit, which takes 16 MiB at most: half of that, so that what else is said
 * has room beside it.
 */
export const MOST_ANNOUNCED_BYTES = 8 * 1024 * 1024;

/** Whether an announcement of so many bytes can be handed on to all of so many corridors at once. */
export function canBeHandedOn(bytes: number, corridors: number): boolean {
  return bytes * corridors <= MOST_ANNOUNCED_BYTES;
}

/** From when on an announced state holds; minus infinity where it has no date. */
export function fromMsOf({ line }: LineAnnounced): number {
  return typeof line["from"] === "string" ? Date.parse(line["from"]) : Number.NEGATIVE_INFINITY;
}

/**
 * Takes an announced state of the railroad into a book. A refusal where it has a mistake, cannot follow what is known, or says
 * other things than the state that is known of its date: what was taken stays, whoever announced it.
 */
export function takeLine(announced: LineAnnounced, book: LineBook): "taken" | "known" | Refusal {
  const { line } = announced;
  const fromMs = fromMsOf(announced);
  const digest = createHash("sha256").update(JSON.stringify(line)).digest("base64");
  // It comes through every partition; only the first is worth reading.
  if (book.wasAnnouncedAs(fromMs, digest)) return "known";
  const railroad = railroadOfContents(line);
  if (railroad === null) return refused("line", "the contents of a line file without mistakes", "Check the file, and announce it again.");
  const known = book.states.find((state) => state.fromMs === fromMs);
  if (known !== undefined && !isDeepStrictEqual(plain(known), plain(railroad)))
    return refused("line", `what is known of the line from ${dateOf(fromMs)} on`, OTHER_DATE_ADVICE);
  const taken = book.take(railroad);
  if (typeof taken !== "string") return refused("line", `a state that can follow: ${taken.refused}`, RESTART_ADVICE);
  book.announcedAs(fromMs, digest);
  return taken;
}

/** A state that no commit could hand on to all corridors: it would be folded again for ever. */
export function refusedForSize(): Refusal {
  const most = `${MOST_ANNOUNCED_BYTES / 1024 / 1024} MiB`;
  return refused("line", `at most ${most} over all corridors`, "Stop bearing-rise, put the file beside the others, and start it.");
}

/** What a state is made of, without what is merely absent. */
function plain(railroad: Railroad): unknown {
  return JSON.parse(JSON.stringify({ ...partsOf(railroad), sites: Object.fromEntries(railroad.sites) }));
}

const OTHER_DATE_ADVICE = "Give every process the same files, and put a change into a file of its own with a later `from`.";

function dateOf(fromMs: number): string {
  return Number.isFinite(fromMs) ? new Date(fromMs).toISOString() : "the beginning";
}

function refused(path: string, expected: string, advice: string): Refusal {
  return { reason: "LINE-004 line-not-taken", path, expected, advice };
}
