import type * as z from "zod";
import { NO_SUBJECT } from "./desk-actions.ts";
import { formatOf } from "./fields.ts";
import { type Refusal, refusal } from "./reject.ts";

/** A path is shown to people: a hostile key must not make it endless. */
const PATH_CHARS = 200;

/** What a schema objected to, in the feed's own codes: the first mistake of the record stands for all. */
export function refusalOf(issues: readonly z.core.$ZodIssue[], value: unknown): Refusal {
  const issue = issues[0];
  if (issue === undefined) return refusal("FEED-009 wrong-type");
  const path = wordsOf(issue.path);
  const given = at(value, issue.path);
  switch (issue.code) {
    case "invalid_type":
      if (given === undefined) return refusal("FEED-008 missing-field", path, typeWords(issue.expected));
      return refusal("FEED-009 wrong-type", path, typeWords(issue.expected));
    case "too_big":
      if (issue.origin === "string") return refusal("FEED-016 not-a-text", path, `at most ${issue.maximum} characters`);
      if (issue.origin === "array") return refusal("FEED-015 too-many", path, `at most ${issue.maximum} of them`);
      return refusal("FEED-010 out-of-bounds", path, `at most ${issue.maximum}`);
    case "too_small":
      if (issue.origin === "array") return refusal("FEED-015 too-many", path, `at least ${issue.minimum} of them`);
      return refusal("FEED-010 out-of-bounds", path, `${issue.inclusive === false ? "more than" : "at least"} ${issue.minimum}`);
    case "invalid_value":
      if (given === undefined) return refusal("FEED-008 missing-field", path, issue.values.join(" | "));
      return refusal("FEED-014 unknown-word", path, issue.values.join(" | "));
    case "invalid_format": {
      const format = formatOf(issue.pattern ?? "");
      if (format === "time") return refusal("FEED-012 not-a-time", path);
      if (format === "text") return refusal("FEED-016 not-a-text", path);
      return refusal("FEED-011 not-an-id", path, format);
    }
    case "invalid_key":
      return refusal("FEED-011 not-an-id", path, "the name of a device");
    case "custom":
      return issue.message === NO_SUBJECT ? refusal("FEED-017 no-subject", path) : refusal("FEED-015 too-many", path, issue.message);
    default:
      return refusal("FEED-009 wrong-type", path, issue.message);
  }
}

function typeWords(expected: string): string {
  if (expected === "int") return "a whole number";
  if (expected === "record") return "an object";
  return /^[aeiou]/.test(expected) ? `an ${expected}` : `a ${expected}`;
}

/** `left.bearing[3]`; keys that are no plain names are quoted. */
export function wordsOf(path: readonly PropertyKey[]): string {
  let words = "";
  for (const step of path) {
    if (typeof step === "number") words += `[${step}]`;
    else if (/^\w{1,64}$/.test(String(step))) words += words === "" ? String(step) : `.${String(step)}`;
    else words += `[${JSON.stringify(String(step).slice(0, PATH_CHARS))}]`;
  }
  return words.length > PATH_CHARS ? `${words.slice(0, PATH_CHARS - 1)}…` : words;
}

function at(value: unknown, path: readonly PropertyKey[]): unknown {
  let here = value;
  for (const step of path) {
    if (typeof here !== "object" || here === null || !Object.hasOwn(here, step)) return undefined;
    here = (here as Record<PropertyKey, unknown>)[step];
  }
  return here;
}
