import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { limitsOf } from "../../src/warning/rule-set.ts";
import { loadRules, readRules } from "../../src/warning/rules.ts";
import { RULES, RULES_TEXT } from "./samples.ts";

const folder = mkdtempSync(join(tmpdir(), "rules-"));
afterAll(() => rmSync(folder, { recursive: true }));

/** The text with one line changed, and where that line is. */
function changed(from: string, to: string): { text: string; line: number } {
  const index = RULES_TEXT.indexOf(from);
  expect(index, from).toBeGreaterThan(0);
  return { text: RULES_TEXT.replace(from, to), line: RULES_TEXT.slice(0, index).split("\n").length };
}

function mistakeOf(from: string, to: string) {
  const { text, line } = changed(from, to);
  const { rules, mistakes } = readRules(text, "rules.yaml");
  expect(rules).toBeNull();
  expect(mistakes).toHaveLength(1);
  return { ...mistakes[0]!, expectedLine: line };
}

describe("the rules of the demonstration", () => {
  it.each(["standard", "cautious"])("%s is read without a mistake", (name) => {
    const { rules, mistakes } = loadRules(new URL(`../../replay-data/rules/${name}`, import.meta.url).pathname);
    expect(mistakes).toEqual([]);
    expect(rules!.sets.length).toBeGreaterThan(0);
  });

  it("are picked by event time: the set in force that day, before the first one the first", () => {
    const { rules } = loadRules(new URL("../../replay-data/rules/standard", import.meta.url).pathname);
    const at = (time: string) => rules!.at(Date.parse(time)).id;
    expect(at("2026-02-28T23:59:59.999Z")).toBe("standard-2026-01");
    expect(at("2026-03-01T00:00:00Z")).toBe("standard-2026-03");
    expect(at("2020-01-01T00:00:00Z")).toBe("standard-2026-01");
    expect(rules!.inForce(Date.parse("2020-01-01T00:00:00Z"))).toBe(false);
    expect(rules!.inForce(Date.parse("2026-01-01T00:00:00Z"))).toBe(true);
  });

  it("give a kind of site without a row the default, and a key train without a row that of ordinary trains", () => {
    expect(limitsOf(RULES, "nowhere", false)).toBe(RULES.limits.default!.ordinary);
    expect(limitsOf(RULES, "constructor", true)).toBe(RULES.limits.default!.key);
    const { key: _, ...withoutKey } = RULES.limits.default!;
    expect(limitsOf({ ...RULES, limits: { default: withoutKey } }, "main", true)).toBe(RULES.limits.default!.ordinary);
  });
});

describe("a mistake in a rules file is told by line and column", () => {
  it("when a text has a placeholder that has no value there", () => {
    const mistake = mistakeOf("Keep an eye on {place}", "Keep an eye on {plaice}");
    expect(mistake).toMatchObject({ code: "unknown-placeholder", path: "advice.watch.bearing", line: mistake.expectedLine });
    expect(mistake.says).toContain("{plaice}");
    expect(mistakeOf("Stop {train} where it is safe", "Stop {setOut} where it is safe").code).toBe("unknown-placeholder");
    expect(mistakeOf("Nothing more to do about", "Nothing more {place} to do about").code).toBe("unknown-placeholder");
    expect(mistakeOf("{vehicle} is no longer", "{setOut} is no longer").code).toBe("unknown-placeholder");
    expect(mistakeOf("Key train: at most", "Key train} at most").says).toContain("brace");
  });

  it("when a text begins with a number that is not always known, for that sentence may be left out", () => {
    const mistake = mistakeOf("Keep an eye on {place}. It reads {rise}", "Keep an eye on {place}, {rise}");
    expect(mistake).toMatchObject({ code: "first-sentence-unsure", path: "advice.watch.bearing", line: mistake.expectedLine });
    expect(mistake.says).toContain("{rise}");
  });

  it("when the critical limit is under the limit", () => {
    const mistake = mistakeOf("criticalF: 200", "criticalF: 160");
    expect(mistake).toMatchObject({ code: "limits-crossed", path: "limits.default.ordinary.criticalF", line: mistake.expectedLine });
  });

  it("when a level would flap, a gap is out of order, or a time is not UTC", () => {
    expect(mistakeOf("lower: { beforeNextSite: 0.03,", "lower: { beforeNextSite: 0.08,").code).toBe("no-hysteresis");
    expect(mistakeOf("- { miles: 25, weight: 1.2 }", "- { miles: 5, weight: 1.2 }").code).toBe("gap-order");
    expect(mistakeOf("from: 2026-01-01T00:00:00Z", "from: 2026-01-01T00:00:00+01:00").code).toBe("bad-format");
  });

  it("all at once", () => {
    const text = RULES_TEXT.replace("criticalF: 200", "criticalF: 160")
      .replace("on {place}. It", "on {spot}. It")
      .replace("weight: 1.5", "weight: 9")
      .replace("shelveMaxHours: 4", "shelvMaxHours: 4");
    const codes = readRules(text, "rules.yaml").mistakes.map((mistake) => mistake.code);
    expect(codes).toEqual(["limits-crossed", "out-of-range", "missing", "unknown-key", "unknown-placeholder"]);
  });
});

describe("a folder of rules", () => {
  function written(name: string, files: Record<string, string>): string {
    const path = join(folder, name);
    mkdirSync(path);
    for (const [file, text] of Object.entries(files)) writeFileSync(join(path, file), text);
    return path;
  }

  it("with two files of the same id or date names both", () => {
    const { rules, mistakes } = loadRules(written("twice", { "a.yaml": RULES_TEXT, "b.yml": RULES_TEXT, "notes.txt": "not rules" }));
    expect(rules).toBeNull();
    expect(mistakes.map((mistake) => [mistake.code, mistake.line])).toEqual([
      ["same-rules-id", RULES_TEXT.slice(0, RULES_TEXT.indexOf("\nid:")).split("\n").length + 1],
      ["same-rules-date", RULES_TEXT.slice(0, RULES_TEXT.indexOf("\nfrom:")).split("\n").length + 1],
    ]);
    expect(mistakes[0]!.says).toContain("a.yaml");
  });

  it("without a rules file, or that is not there, is a mistake and no throw", () => {
    expect(loadRules(written("empty", { "notes.txt": "" })).mistakes[0]!.code).toBe("no-rules-file");
    expect(loadRules(join(folder, "nowhere")).mistakes[0]!.code).toBe("file-unreadable");
  });
});
