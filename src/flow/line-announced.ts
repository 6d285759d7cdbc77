import type { LineAnnounced } from "../feed/record.ts";
import type { Refusal } from "../feed/reject.ts";
import type { LineBook } from "../line/line-book.ts";
import { RESTART_ADVICE } from "../line/line-change.ts";
import { railroadOfContents } from "../line/line-file.ts";

/** Takes an announced state of the railroad into a book; a refusal where it has a mistake or cannot follow what is known. */
export function takeLine({ line }: LineAnnounced, book: LineBook): "taken" | "known" | Refusal {
  const fromMs = typeof line["from"] === "string" ? Date.parse(line["from"]) : Number.NEGATIVE_INFINITY;
  // It comes through every partition; only the first is worth reading.
  if (book.has(fromMs)) return "known";
  const railroad = railroadOfContents(line);
  if (railroad === null) return refused("line", "the contents of a line file without mistakes", "Check the file, and announce it again.");
  const taken = book.take(railroad);
  return typeof taken === "string" ? taken : refused("line", `a state that can follow: ${taken.refused}`, RESTART_ADVICE);
}

function refused(path: string, expected: string, advice: string): Refusal {
  return { reason: "LINE-004 line-not-taken", path, expected, advice };
}
