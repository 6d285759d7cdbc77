import { datedFiles } from "./dated-files.ts";
import { LineBook, MOST_LINES } from "./line-book.ts";
import { hindrancesOf, RESTART_ADVICE } from "./line-change.ts";
import { type LineRead, loadLine } from "./line-file.ts";
import type { LineFile } from "./line-schema.ts";
import type { Mistake } from "./mistake.ts";
import type { Railroad } from "./railroad.ts";

/** One dated state, with the contents of its file. */
export interface DatedLine {
  railroad: Railroad;
  contents: LineFile;
}

/** Line files, read: the book and its states, oldest first, or mistakes. */
export interface LinesRead {
  book: LineBook | null;
  dated: DatedLine[];
  mistakes: Mistake[];
}

/**
 * A line file, or a folder of dated ones (`*.yaml`, `*.yml`; subfolders are not looked into), each with the whole railroad.
 * All mistakes of all files at once. Codes beside those of `readLine`: `no-line-file`, `too-many-line-files`,
 * `same-line-date`, `line-cannot-follow`.
 */
export function loadLines(path: string): LinesRead {
  const { files, mistakes } = datedFiles(path, { kind: "line", most: MOST_LINES });
  const read = files.map((file) => ({ file, ...loadLine(file) }));
  const found = [...mistakes, ...read.flatMap((one) => one.mistakes), ...clashes(read)];
  const dated = read
    .flatMap(({ railroad, contents }) => (railroad === null || contents === null ? [] : [{ railroad, contents }]))
    .sort((a, b) => a.railroad.fromMs - b.railroad.fromMs);
  if (found.length > 0) return { book: null, dated: [], mistakes: found };
  return { book: new LineBook(dated.map(({ railroad }) => railroad)), dated, mistakes: found };
}

/** Two files must not claim the same instant, and each must be able to follow the others. */
function clashes(read: readonly (LineRead & { file: string })[]): Mistake[] {
  const mistakes: Mistake[] = [];
  const before: { file: string; railroad: Railroad }[] = [];
  for (const { railroad, file, fromAt } of read) {
    if (railroad === null) continue;
    const mistake = (code: string, says: string, expected: string, advice: string): Mistake => ({
      code,
      file,
      ...fromAt,
      path: "from",
      says,
      expected,
      advice,
    });
    const same = before.find((one) => one.railroad.fromMs === railroad.fromMs);
    if (same !== undefined) {
      const date = Number.isFinite(railroad.fromMs) ? new Date(railroad.fromMs).toISOString() : "no date";
      const says = `${date} is already that of ${same.file}`;
      mistakes.push(mistake("same-line-date", says, "a date used once", "Give this file a `from` of its own."));
    }
    for (const other of before) {
      for (const says of hindrancesOf(other.railroad, railroad))
        mistakes.push(mistake("line-cannot-follow", `${says} (${other.file})`, "the same corridors in every file", RESTART_ADVICE));
    }
    before.push({ file, railroad });
  }
  return mistakes;
}
