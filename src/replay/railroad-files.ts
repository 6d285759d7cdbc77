import { loadLine } from "../line/line-file.ts";
import { formatMistakes } from "../line/mistake.ts";
import type { Railroad } from "../line/railroad.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import { loadRules } from "../warning/rules.ts";
import { CommandError, EXIT } from "./exit-status.ts";

/** The line file of a command. @throws CommandError with all its mistakes */
export function lineOf(path: string): Railroad {
  const { railroad, mistakes } = loadLine(path);
  if (railroad === null) throw new CommandError(EXIT.lineOrRules, formatMistakes(mistakes));
  return railroad;
}

/** The rules of a command: a file, or a folder of dated ones. @throws CommandError with all their mistakes */
export function rulesOf(path: string): RuleBook {
  const { rules, mistakes } = loadRules(path);
  if (rules === null) throw new CommandError(EXIT.lineOrRules, formatMistakes(mistakes));
  return rules;
}
