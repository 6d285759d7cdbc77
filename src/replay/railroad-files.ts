import type { LineBook } from "../line/line-book.ts";
import { type DatedLine, loadLines } from "../line/lines.ts";
import { formatMistakes } from "../line/mistake.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import { loadRules } from "../warning/rules.ts";
import { CommandError, EXIT } from "./exit-status.ts";

/** The railroad of a command: a line file, or a folder of dated ones. @throws CommandError with all their mistakes */
export function lineOf(path: string): LineBook {
  return linesOf(path).book;
}

/** The same, with what the files say. @throws CommandError with all their mistakes */
export function linesOf(path: string): { book: LineBook; dated: DatedLine[] } {
  const { book, dated, mistakes } = loadLines(path);
  if (book === null) throw new CommandError(EXIT.lineOrRules, formatMistakes(mistakes));
  return { book, dated };
}

/** The rules of a command: a file, or a folder of dated ones. @throws CommandError with all their mistakes */
export function rulesOf(path: string): RuleBook {
  const { rules, mistakes } = loadRules(path);
  if (rules === null) throw new CommandError(EXIT.lineOrRules, formatMistakes(mistakes));
  return rules;
}
