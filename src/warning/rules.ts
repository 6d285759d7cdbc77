import { datedFiles } from "../line/dated-files.ts";
import type { Mistake } from "../line/mistake.ts";
import { readTextFile } from "../line/text-file.ts";
import { readYaml } from "../line/yaml-source.ts";
import { RuleBook } from "./rule-book.ts";
import { type Rules, rulesSchema } from "./rule-set.ts";

/** Rule sets in a folder: a new one every month for eight years. */
export const MAX_RULE_FILES = 100;

/** One rules file, read. */
interface RulesFile {
  rules: Rules | null;
  mistakes: Mistake[];
  /** Place of the key `id` and of the key `from`: what another file may contradict. */
  idAt: { line: number; column: number };
  fromAt: { line: number; column: number };
  file: string;
}

/**
 * Rules from one YAML file or from a folder of dated ones (`*.yaml`, `*.yml`; subfolders are not looked into). All
 * mistakes of all files at once; any mistake leaves `rules` null. Codes beside those of readYaml and readTextFile:
 * `no-rules-file`, `too-many-rules-files`, `same-rules-id`, `same-rules-date`.
 */
export function loadRules(path: string): { rules: RuleBook | null; mistakes: Mistake[] } {
  const { files, mistakes } = datedFiles(path, { kind: "rules", most: MAX_RULE_FILES });
  const read = files.map((file) => {
    const { text, mistakes } = readTextFile(file);
    return text === null ? unread(file, mistakes) : readRules(text, file);
  });
  const found = [...mistakes, ...read.flatMap((file) => file.mistakes), ...clashes(read)];
  const sets = read.flatMap((file) => (file.rules === null ? [] : [file.rules]));
  return { rules: found.length === 0 ? new RuleBook(sets) : null, mistakes: found };
}

/** One rules text. Pure. */
export function readRules(text: string, file: string): RulesFile {
  const source = readYaml(text, file, rulesSchema);
  return { rules: source.value, mistakes: source.mistakes, idAt: source.at(["id"]), fromAt: source.at(["from"]), file };
}

/** Two files must not claim the same id (a warning names its rule set by it) or the same instant. */
function clashes(read: readonly RulesFile[]): Mistake[] {
  const mistakes: Mistake[] = [];
  const ids = new Map<string, string>();
  const dates = new Map<number, string>();
  for (const { rules, file, idAt, fromAt } of read) {
    if (rules === null) continue;
    const sameId = ids.get(rules.id);
    if (sameId !== undefined) {
      const says = `the id "${rules.id}" is already that of ${sameId}`;
      mistakes.push({
        code: "same-rules-id",
        file,
        ...idAt,
        path: "id",
        says,
        expected: "an id used once",
        advice: "Give this rule set an id of its own.",
      });
    }
    const from = Date.parse(rules.from);
    const sameDate = dates.get(from);
    if (sameDate !== undefined) {
      const says = `${rules.from} is already the date of ${sameDate}`;
      mistakes.push({
        code: "same-rules-date",
        file,
        ...fromAt,
        path: "from",
        says,
        expected: "a date used once",
        advice: "Let one of the two begin later.",
      });
    }
    ids.set(rules.id, sameId ?? file);
    dates.set(from, sameDate ?? file);
  }
  return mistakes;
}

function unread(file: string, mistakes: Mistake[]): RulesFile {
  const top = { line: 1, column: 1 };
  return { rules: null, mistakes, idAt: top, fromAt: top, file };
}
