import { type Document, isAlias, isMap, isPair, isScalar, isSeq, LineCounter, type Node, parseDocument } from "yaml";
import type { z } from "zod";
import { isFeedText, otherKind } from "./file-kind.ts";
import { knownKeys } from "./known-keys.ts";
import { compareMistakes, type Mistake } from "./mistake.ts";
import { mistakesOfIssues } from "./schema-mistake.ts";
import { MAX_FILE_BYTES, TOO_LARGE } from "./text-file.ts";

/** Places an alias may be repeated in a file; more is an attack or an accident. */
const MAX_ALIASES = 100;

export interface Place {
  /** Both from 1. */
  line: number;
  column: number;
}

export type Path = readonly PropertyKey[];

/** A file after YAML and its schema, with the place of everything in it. */
export interface YamlSource<T> {
  /** null when there is any mistake. */
  value: T | null;
  /** In the order of reading. */
  mistakes: Mistake[];
  /** The document as plain values, before the schema, as far as YAML could be read: for checks across a file with mistakes. */
  raw: unknown;
  /** Place of the value at a path (or of its key); of the nearest thing around it when it is not there. */
  at(path: Path, part?: "value" | "key"): Place;
}

/**
 * Reads a YAML text by a schema and gives all mistakes at once, each with its line and column. Pure.
 *
 * A schema may say more in a refinement: `ctx.addIssue({ code: "custom", message, path, params: { code, expected, advice } })`
 * becomes a mistake with that code. Keys that a `z.strictObject` does not know are mistakes with a "did you mean".
 * Codes: `file-too-large`, `wrong-file`, `yaml-syntax`, `empty-file`, and those of `schema-mistake.ts`.
 */
export function readYaml<T>(text: string, file: string, schema: z.ZodType<T>): YamlSource<T> {
  if (Buffer.byteLength(text) > MAX_FILE_BYTES) return unread(fileMistake(file, "file-too-large", ...TOO_LARGE));
  if (isFeedText(text)) return unread(wrongFile(file, "a feed"));
  const lines = new LineCounter();
  const parsed = parse(text, lines);
  if ("failure" in parsed) return unread(fileMistake(file, "yaml-syntax", parsed.failure, "YAML", "Write the file without deep nesting."));
  const { document, raw } = parsed;
  const at = (path: Path, part: "value" | "key" = "value") => placeOf(document, lines, path, part);
  const mistakes = [...document.errors, ...document.warnings].map((error) => syntaxMistake(file, lines, error));
  if (mistakes.length === 0 && (raw === null || raw === undefined)) {
    mistakes.push(fileMistake(file, "empty-file", "is empty", "a YAML document", "Start from the file of the demonstration railroad."));
  }
  if (mistakes.length > 0) return { value: null, mistakes: mistakes.sort(compareMistakes), raw: null, at };

  const result = schema.safeParse(raw);
  if (result.success) return { value: result.data, mistakes, raw, at };
  const other = otherKind(raw, knownKeys(schema, [], raw));
  if (other !== null) return unread(wrongFile(file, other));
  return { value: null, mistakes: mistakesOfIssues(result.error.issues, raw, schema, file, at).sort(compareMistakes), raw, at };
}

function parse(text: string, lines: LineCounter): { document: Document; raw: unknown } | { failure: string } {
  try {
    const document = parseDocument(text, { lineCounter: lines, prettyErrors: false, uniqueKeys: true, logLevel: "error" });
    return { document, raw: document.errors.length > 0 ? null : document.toJS({ maxAliasCount: MAX_ALIASES }) };
  } catch (error) {
    // The composer is recursive and aliases are counted while they unfold: both end here, never in the caller.
    const reason = error instanceof RangeError ? "is nested too deep" : error instanceof Error ? error.message : String(error);
    return { failure: `cannot be read as YAML: ${reason}` };
  }
}

function syntaxMistake(file: string, lines: LineCounter, error: { code: string; pos: [number, number]; message: string }): Mistake {
  const place = lines.linePos(error.pos[0]);
  const twice = error.code === "DUPLICATE_KEY";
  return {
    code: twice ? "duplicate-key" : "yaml-syntax",
    file,
    line: Math.max(1, place.line),
    column: Math.max(1, place.col),
    path: "",
    says: twice ? "the same key is written twice" : error.message,
    expected: twice ? "every key once" : "YAML 1.2",
    advice: twice ? "Keep one of the two." : "Check indentation, brackets and quotes here and on the line before.",
  };
}

/** Walks as far along the path as the document goes. */
function placeOf(document: Document, lines: LineCounter, path: Path, part: "value" | "key"): Place {
  let node = document.contents as Node | null;
  let key: Node | null = null;
  let offset = node?.range?.[0] ?? 0;
  for (const step of path) {
    if (isAlias(node)) node = node.resolve(document) ?? null;
    const next = childOf(node, step);
    if (next === null) break;
    key = next.key;
    node = next.value;
    offset = node?.range?.[0] ?? key?.range?.[0] ?? offset;
  }
  if (part === "key" && key?.range) offset = key.range[0];
  const place = lines.linePos(offset);
  return { line: Math.max(1, place.line), column: Math.max(1, place.col) };
}

function childOf(node: Node | null, step: PropertyKey): { key: Node | null; value: Node | null } | null {
  if (isSeq(node) && typeof step === "number") {
    const value = node.items[step];
    return value === undefined ? null : { key: null, value: value as Node };
  }
  if (!isMap(node)) return null;
  for (const pair of node.items) {
    if (!isPair(pair) || !isScalar(pair.key) || String(pair.key.value) !== String(step)) continue;
    return { key: pair.key, value: pair.value as Node | null };
  }
  return null;
}

function unread<T>(mistake: Mistake): YamlSource<T> {
  return { value: null, mistakes: [mistake], raw: null, at: () => ({ line: 1, column: 1 }) };
}

function wrongFile(file: string, kind: string): Mistake {
  return fileMistake(
    file,
    "wrong-file",
    `is ${kind}`,
    "another kind of file here",
    "Check which file stands where; --help shows the order.",
  );
}

function fileMistake(file: string, code: string, says: string, expected: string, advice: string): Mistake {
  return { code, file, line: 1, column: 1, path: "", says, expected, advice };
}
