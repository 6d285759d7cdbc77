import { describe, expect, test } from "vitest";
import { z } from "zod";
import { readYaml } from "../../src/line/yaml-source.ts";

/** `code path: expected; advice` of each mistake. */
function said(text: string, schema: z.ZodType): string[] {
  return readYaml(text, "f.yaml", schema).mistakes.map((m) => `${m.code} ${m.path}: ${m.expected}; ${m.advice}`);
}

describe("what a schema finds, in words", () => {
  test("names a wrong type as people call it, and quotes for a number that is a name", () => {
    const schema = z.strictObject({ id: z.string(), miles: z.number(), cars: z.int(), wheel: z.boolean(), tracks: z.array(z.string()) });
    expect(said("id: 14\nmiles: far\ncars: 1.5\nwheel: maybe\ntracks: { a: 1 }\n", schema)).toEqual([
      'wrong-type id: text; Write text. Put it in quotes: "14".',
      "wrong-type miles: a number; Write a number.",
      "wrong-type cars: a whole number; Write a whole number.",
      "wrong-type wheel: true or false; Write true or false.",
      "wrong-type tracks: a list; Write a list.",
    ]);
  });

  test("says both kinds that a value may be", () => {
    const schema = z.strictObject({ track: z.union([z.string(), z.int()]) });
    expect(said("track: true\n", schema)).toEqual(["wrong-type track: text or a number; Write text or a number."]);
    expect(said("{}\n", schema)).toEqual(['missing track: text or a number; Add "track".']);
  });

  test("says what is wrong inside the kind that was probably meant", () => {
    const schema = z.strictObject({ limit: z.union([z.number(), z.strictObject({ riseF: z.number() })]) });
    expect(said("limit: { rise: 170 }\n", schema)).toEqual([
      'missing limit.riseF: a number; Add "riseF".',
      'unknown-key limit.rise: riseF; Did you mean "riseF"?',
    ]);
  });

  test("suggests keys of the branch that a discriminator names, inside lists, records, optionals and defaults", () => {
    const branch = z.discriminatedUnion("kind", [
      z.strictObject({ kind: z.literal("warn"), chance: z.number() }),
      z.strictObject({ kind: z.literal("limit"), riseF: z.number() }),
    ]);
    const schema = z.strictObject({ rows: z.record(z.string(), z.array(branch).optional()).default({}) });
    expect(said("rows: { main: [{ kind: limit, riseF: 1, riseC: 2 }] }\n", schema)).toEqual([
      'unknown-key rows.main[0].riseC: one of kind, riseF; Did you mean "riseF"?',
    ]);
    expect(said("rows: { main: [{ kind: limt }] }\n", schema)).toEqual([
      'not-one-of rows.main[0].kind: one of warn, limit; Did you mean "limit"?',
    ]);
  });

  test("points at a key that is not allowed as a key", () => {
    const schema = z.strictObject({ limits: z.record(z.string().regex(/^[a-z]+$/, "small letters"), z.number()) });
    const { mistakes } = readYaml("limits:\n  main: 1\n  MAIN: 2\n", "f.yaml", schema);
    expect(mistakes).toMatchObject([{ code: "bad-format", line: 3, column: 3, expected: "small letters" }]);
  });

  test("says bounds with their unit and what is there", () => {
    const schema = z.strictObject({ name: z.string().max(3), rows: z.array(z.int()).min(2), riseF: z.number().min(20) });
    expect(readYaml("name: toolong\nrows: [1]\nriseF: 2\n", "f.yaml", schema).mistakes.map((m) => `${m.says}; ${m.expected}`)).toEqual([
      "name has 7; at most 3 characters",
      "rows has 1; at least 2 entries",
      "riseF is 2; at least 20",
    ]);
  });
});
