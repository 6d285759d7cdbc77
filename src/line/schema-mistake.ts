import type { z } from "zod";
import { knownKeys } from "./known-keys.ts";
import { type Mistake, pathText } from "./mistake.ts";
import { nearestWord } from "./spelling.ts";

type Issue = z.core.$ZodIssue;
type At = (path: readonly PropertyKey[], part?: "value" | "key") => { line: number; column: number };
type Words = Pick<Mistake, "code" | "says" | "expected" | "advice">;

/** What is shown of a wrong value. */
const SHOWN_CHARACTERS = 60;

/**
 * The schema's issues as mistakes. Codes: `unknown-key`, `missing`, `wrong-type`, `not-one-of`, `out-of-range`,
 * `bad-format`, `no-variant`, `invalid`, or the code a refinement gives in `params.code`.
 */
export function mistakesOfIssues(issues: readonly Issue[], raw: unknown, schema: z.ZodType, file: string, at: At): Mistake[] {
  const mistakes: Mistake[] = [];
  const add = (path: readonly PropertyKey[], words: Words, part: "value" | "key" = "value") =>
    mistakes.push({ file, ...at(path, part), path: pathText(path), ...words });

  for (const issue of issues) {
    if (issue.code === "unrecognized_keys") {
      const known = knownKeys(schema, issue.path, raw);
      for (const key of issue.keys) add([...issue.path, key], unknownKey(key, known), "key");
    } else if (issue.code === "invalid_key") {
      const inner = issue.issues[0];
      const key = String(issue.path.at(-1) ?? "");
      add(issue.path, { ...describe(inner ?? issue, key), says: `the key ${shown(key)} is not allowed here` }, "key");
    } else if (issue.code === "invalid_union" && issue.errors.length > 0) {
      mistakes.push(...unionMistakes(issue, raw, schema, file, at));
    } else {
      add(issue.path, describe(issue, valueAt(raw, issue.path)));
    }
  }
  return mistakes;
}

/** A union whose branches differ only in a plain type is one mistake; else the branch that fits best speaks. */
function unionMistakes(issue: z.core.$ZodIssueInvalidUnion, raw: unknown, schema: z.ZodType, file: string, at: At): Mistake[] {
  const deep = issue.errors.filter((branch) => !branch.some((inner) => inner.path.length === 0 && inner.code === "invalid_type"));
  const best = deep.sort((a, b) => a.length - b.length)[0];
  const value = valueAt(raw, issue.path);
  if (best !== undefined && value !== undefined) {
    const placed = best.map((inner) => ({ ...inner, path: [...issue.path, ...inner.path] }) as Issue);
    return mistakesOfIssues(placed, raw, schema, file, at);
  }
  const types = [
    ...new Set(issue.errors.flat().map((inner) => (inner.code === "invalid_type" ? typeName(inner.expected) : "another value"))),
  ];
  const words = value === undefined ? missing(issue.path, types.join(" or ")) : wrongType(subjectOf(issue.path), value, types.join(" or "));
  return [{ file, ...at(issue.path), path: pathText(issue.path), ...words }];
}

function describe(issue: Issue, value: unknown): Words {
  if (issue.code === "custom") return customWords(issue);
  const subject = subjectOf(issue.path);
  if (value === undefined) return missing(issue.path, expectation(issue));
  switch (issue.code) {
    case "invalid_type":
      return wrongType(subject, value, expectation(issue));
    case "invalid_value":
      return notOneOf(subject, value, issue.values.map(String));
    case "too_small":
    case "too_big": {
      const size = typeof value === "string" || Array.isArray(value) ? `has ${value.length}` : `is ${shown(value)}`;
      return { code: "out-of-range", says: `${subject} ${size}`, expected: expectation(issue), advice: "Check the figure and its unit." };
    }
    case "invalid_format":
      return { code: "bad-format", says: `${subject} is ${shown(value)}`, expected: expectation(issue), advice: "Write it in that form." };
    case "invalid_union":
      return notOneOf(subject, value, "options" in issue && Array.isArray(issue.options) ? issue.options.map(String) : []);
    default:
      return {
        code: "invalid",
        says: `${subject} is ${shown(value)}`,
        expected: expectation(issue),
        advice: "Compare with the description of the file.",
      };
  }
}

/** Refinements speak for themselves; what they leave out is filled with the least that is true. */
function customWords(issue: z.core.$ZodIssueCustom): Words {
  const given = issue.params ?? {};
  const text = (key: string, otherwise: string) => (typeof given[key] === "string" ? (given[key] as string) : otherwise);
  return { code: text("code", "invalid"), says: issue.message, expected: text("expected", ""), advice: text("advice", "") };
}

/** What the schema wanted, in words. A schema that sets its own message (`{ error: "..." }`) is quoted. */
function expectation(issue: Issue): string {
  if (issue.code === "invalid_type") return typeName(issue.expected);
  if (issue.code === "invalid_value") return oneOf(issue.values.map(String));
  if (issue.code === "too_small") return `at least ${issue.inclusive === false ? "more than " : ""}${issue.minimum}${unitOf(issue.origin)}`;
  if (issue.code === "too_big") return `at most ${issue.inclusive === false ? "less than " : ""}${issue.maximum}${unitOf(issue.origin)}`;
  if (issue.code === "invalid_format" && issue.format === "date") return "a date like 2026-03-04";
  if (issue.code === "invalid_format" && issue.format === "datetime") return "a UTC time like 2026-03-04T05:06:07Z";
  return issue.message;
}

function unknownKey(key: string, known: readonly string[]): Words {
  const near = nearestWord(key, known);
  return {
    code: "unknown-key",
    says: `the key ${shown(key)} is not known here`,
    expected: known.length > 0 ? oneOf(known) : "a known key",
    advice: near === null ? "Take it out, or check the spelling." : `Did you mean ${shown(near)}?`,
  };
}

function missing(path: readonly PropertyKey[], expected: string): Words {
  const key = String(path.at(-1) ?? "");
  return { code: "missing", says: `the key ${shown(key)} is missing`, expected, advice: `Add ${shown(key)}.` };
}

function wrongType(subject: string, value: unknown, expected: string): Words {
  const quoted = typeof value === "number" && expected === "text" ? ` Put it in quotes: "${value}".` : "";
  return { code: "wrong-type", says: `${subject} is ${shown(value)}`, expected, advice: `Write ${expected}.${quoted}` };
}

function notOneOf(subject: string, value: unknown, known: readonly string[]): Words {
  const near = typeof value === "string" ? nearestWord(value, known) : null;
  const advice = near === null ? "Choose one of these." : `Did you mean ${shown(near)}?`;
  return { code: "not-one-of", says: `${subject} is ${shown(value)}`, expected: oneOf(known), advice };
}

/** The key that a mistake is about, or the entry of its list. */
function subjectOf(path: readonly PropertyKey[]): string {
  const last = path.at(-1);
  return last === undefined ? "the file" : typeof last === "number" ? `${String(path.at(-2) ?? "entry")}[${last}]` : String(last);
}

function oneOf(values: readonly string[]): string {
  return values.length === 1 ? values[0]! : `one of ${values.join(", ")}`;
}

function typeName(type: string): string {
  const names: Record<string, string> = {
    string: "text",
    number: "a number",
    int: "a whole number",
    boolean: "true or false",
    object: "keys and values",
    record: "keys and values",
    array: "a list",
    tuple: "a list",
  };
  return names[type] ?? type;
}

function unitOf(origin: string): string {
  return origin === "string" ? " characters" : origin === "array" ? " entries" : "";
}

function shown(value: unknown): string {
  if (value === null) return "empty";
  if (Array.isArray(value)) return "a list";
  if (typeof value === "object") return "keys and values";
  const text = typeof value === "string" ? JSON.stringify(value) : String(value);
  return text.length > SHOWN_CHARACTERS ? text.slice(0, SHOWN_CHARACTERS) + "..." : text;
}

function valueAt(raw: unknown, path: readonly PropertyKey[]): unknown {
  let value = raw;
  for (const step of path) {
    if (typeof value !== "object" || value === null || !Object.hasOwn(value, step)) return undefined;
    value = (value as Record<PropertyKey, unknown>)[step];
  }
  return value;
}
