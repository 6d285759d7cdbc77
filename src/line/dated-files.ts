import { readdirSync, statSync } from "node:fs";
import { join } from "node:path";
import type { Mistake } from "./mistake.ts";

/** What lies in a folder of dated files, in words: "rules", "line". */
export interface DatedKind {
  kind: string;
  most: number;
}

/**
 * The YAML files of a path, in the order of their names: the file itself, or those of a folder. Codes: `no-<kind>-file`,
 * `too-many-<kind>-files`. What is wrong with the path itself is said by the reader of the file.
 */
export function datedFiles(path: string, { kind, most }: DatedKind): { files: string[]; mistakes: Mistake[] } {
  let names: string[];
  try {
    if (!statSync(path).isDirectory()) return { files: [path], mistakes: [] };
    names = readdirSync(path)
      .filter((name) => /\.ya?ml$/.test(name))
      .sort();
  } catch {
    return { files: [path], mistakes: [] };
  }
  const none = (code: string, says: string, expected: string, advice: string) => ({
    files: [],
    mistakes: [{ code, file: path, line: 1, column: 1, path: "", says, expected, advice }],
  });
  if (names.length === 0)
    return none(`no-${kind}-file`, `holds no ${kind} file`, "at least one *.yaml", "Name the right folder, or add a file.");
  if (names.length > most)
    return none(`too-many-${kind}-files`, `holds ${names.length} ${kind} files`, `at most ${most}`, "Move those long out of force away.");
  return { files: names.map((name) => join(path, name)), mistakes: [] };
}
