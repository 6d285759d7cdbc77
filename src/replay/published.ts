import type { Rejected } from "../feed/record.ts";
import type { RecordFile } from "./outputs.ts";

/** One record that a replay publishes: for a file, or to be counted as rejected (and in its file, when there is one). */
export interface Published {
  /** The line that it came of, in its feed. */
  line: number;
  /** Of the corridor that publishes it, in the line file; what belongs to none comes last. */
  corridor: number;
  file: RecordFile;
  /** On one line; null when no file is written. */
  json: string | null;
  rejected: Rejected | null;
}

/**
 * What several threads published of the same lines, in the one order that does not depend on who folded what: by line, then by
 * corridor, then as the corridor published it.
 */
export function inOrder(threads: readonly (readonly Published[])[]): Published[] {
  return threads.flat().sort((a, b) => a.line - b.line || a.corridor - b.corridor);
}
