import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { z } from "zod";
import { formatMistakes } from "../../src/line/mistake.ts";
import { MAX_FILE_BYTES } from "../../src/line/text-file.ts";
import { readYaml } from "../../src/line/yaml-source.ts";

const rows = z.strictObject({
  id: z.string().regex(/^[a-z]+$/, "small letters"),
  limits: z.array(
    z.strictObject({ kind: z.enum(["hot-bearing", "hot-wheel"]), riseF: z.number().min(1).max(500), note: z.string().optional() }),
  ),
  begins: z.iso.date().optional(),
});

const good = "id: rows\nlimits:\n  - kind: hot-bearing\n    riseF: 170\n";

function mistakesIn(text: string): string[] {
  return readYaml(text, "rows.yaml", rows).mistakes.map((m) => `${m.line}:${m.column} ${m.code} ${m.path}`);
}

describe("a file that people write", () => {
  test("is read when it has no mistake", () => {
    expect(readYaml(good, "rows.yaml", rows)).toMatchObject({ value: { id: "rows", limits: [{ riseF: 170 }] }, mistakes: [] });
  });

  test("gives all mistakes at once, each at its own line and column", () => {
    const text = "id: ROWS\nlimits:\n  - kind: hot-bering\n    riseF: 1700\n    nots: x\n  - kind: hot-wheel\nbegins: 2026-13-01\n";
    expect(mistakesIn(text)).toEqual([
      "1:5 bad-format id",
      "3:11 not-one-of limits[0].kind",
      "4:12 out-of-range limits[0].riseF",
      "5:5 unknown-key limits[0].nots",
      "6:5 missing limits[1].riseF",
      "7:9 bad-format begins",
    ]);
  });

  test("is told the key or the word that was probably meant", () => {
    const { mistakes } = readYaml("id: rows\nlimits:\n  - kind: hot-bering\n    riseF: 1\n    nots: x\n", "rows.yaml", rows);
    expect(mistakes.map((m) => m.advice)).toEqual(['Did you mean "hot-bearing"?', 'Did you mean "note"?']);
  });

  test("says which key is written twice", () => {
    expect(mistakesIn("id: rows\nid: rows\nlimits: []\n")).toEqual(["2:1 duplicate-key "]);
  });

  test("is refused when empty, larger than the limit, or broken YAML", () => {
    expect(mistakesIn("")).toEqual(["1:1 empty-file "]);
    expect(mistakesIn(`id: ${"a".repeat(MAX_FILE_BYTES)}`)).toEqual(["1:1 file-too-large "]);
    expect(mistakesIn("id: [rows\nlimits: []\n")[0]).toMatch(/^2:\d+ yaml-syntax/);
  });

  test("cannot blow up by aliases or by deep nesting", () => {
    const tenfold = (n: number) => `a${n}: &a${n} [${Array.from({ length: 10 }, () => `*a${n - 1}`).join(", ")}]\n`;
    const bomb = `a0: &a0 [1]\n${Array.from({ length: 9 }, (_, n) => tenfold(n + 1)).join("")}`;
    expect(mistakesIn(bomb)).toEqual(["1:1 yaml-syntax "]);
    expect(mistakesIn("[".repeat(50_000)).length).toBeGreaterThan(0);
  });

  test("lets a refinement speak with its own code, at its own place", () => {
    const twice = rows.superRefine((value, ctx) => {
      if (value.limits.length > 1) {
        ctx.addIssue({
          code: "custom",
          message: "two rows",
          path: ["limits", 1, "kind"],
          params: { code: "row-twice", advice: "Keep one." },
        });
      }
    });
    const text = good + "  - riseF: 2\n    kind: hot-bearing\n";
    expect(readYaml(text, "f", twice).mistakes).toMatchObject([
      { code: "row-twice", says: "two rows", line: 6, column: 11, advice: "Keep one." },
    ]);
  });

  test("can be asked for the place of a key, of a value, or of what is nearest", () => {
    const { at } = readYaml(good, "rows.yaml", rows);
    expect(at(["limits", 0, "riseF"])).toEqual({ line: 4, column: 12 });
    expect(at(["limits", 0, "riseF"], "key")).toEqual({ line: 4, column: 5 });
    expect(at(["limits", 0, "note"])).toEqual({ line: 3, column: 5 });
  });

  test("prints the line with a mark under the column", () => {
    const text = "id: ROWS\nlimits: []\n";
    expect(formatMistakes(readYaml(text, "rows.yaml", rows).mistakes, text)).toBe(
      'rows.yaml:1:5 bad-format at id: id is "ROWS"\n    | id: ROWS\n    |     ^\n    expected: small letters\n    to do: Write it in that form.\n',
    );
  });

  test("never throws, whatever the text", () => {
    const piece = fc.constantFrom(
      "id",
      ":",
      " ",
      "\n",
      "- ",
      "limits",
      "[",
      "]",
      "{",
      "}",
      "&a",
      "*a",
      "!!x",
      "'",
      '"',
      "#",
      "|",
      ">",
      "?",
      "1",
      "~",
      "\t",
      "%",
      "---\n",
    );
    fc.assert(
      fc.property(fc.array(piece, { maxLength: 40 }), (pieces) => {
        const { value, mistakes } = readYaml(pieces.join(""), "f", rows);
        expect(value === null).toBe(mistakes.length > 0);
        for (const m of mistakes) expect(m.line >= 1 && m.column >= 1 && m.code !== "").toBe(true);
      }),
      { seed: 7, numRuns: 1000 },
    );
  });
});
