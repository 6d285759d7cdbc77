import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, test } from "vitest";
import { Outputs, OutputUnwritable } from "../../src/replay/outputs.ts";

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "outputs-"));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

describe("the files of a replay", () => {
  test("records stand one a line in the order in which they were put, many more than the buffer holds", () => {
    const outputs = new Outputs(join(folder, "new", "deep"));
    const count = 20_000;
    for (let i = 0; i < count; i++) outputs.put("warnings", { id: `W-${i}`, place: "car 47, left side é" });
    outputs.putText("rejected", '{"id":"R-1"}');
    expect(outputs.finish()).toEqual({ passes: 0, warnings: count, siteConditions: 0, rejected: 1 });
    const lines = readFileSync(join(folder, "new", "deep", "warnings.jsonl"), "utf8")
      .trimEnd()
      .split("\n");
    expect(lines.map((line) => JSON.parse(line).id)).toEqual(Array.from({ length: count }, (_, i) => `W-${i}`));
    expect(readdirSync(join(folder, "new", "deep")).sort()).toEqual([
      "passes.jsonl",
      "rejected.jsonl",
      "site-conditions.jsonl",
      "warnings.jsonl",
    ]);
  });

  test("until a replay is done, the files of the one before stay whole", () => {
    writeFileSync(join(folder, "warnings.jsonl"), "before\n");
    const outputs = new Outputs(folder);
    outputs.put("warnings", { id: 1 });
    expect(readFileSync(join(folder, "warnings.jsonl"), "utf8")).toBe("before\n");
    outputs.finish();
    expect(readFileSync(join(folder, "warnings.jsonl"), "utf8")).toBe('{"id":1}\n');
  });

  test("a replay that breaks off leaves nothing half done", () => {
    writeFileSync(join(folder, "passes.jsonl"), "before\n");
    const outputs = new Outputs(folder);
    outputs.put("passes", { id: 1 });
    outputs.abandon();
    expect(readdirSync(folder)).toEqual(["passes.jsonl"]);
    expect(readFileSync(join(folder, "passes.jsonl"), "utf8")).toBe("before\n");
  });

  test("what else lies in the folder is not touched", () => {
    writeFileSync(join(folder, "notes.txt"), "mine");
    const outputs = new Outputs(folder);
    outputs.document("report", "<!doctype html>");
    outputs.finish();
    expect(readFileSync(join(folder, "notes.txt"), "utf8")).toBe("mine");
    expect(readFileSync(join(folder, "report.html"), "utf8")).toBe("<!doctype html>");
    expect(existsSync(join(folder, "report.html.part"))).toBe(false);
  });

  test("a folder that cannot be made, and a name taken by a folder, are said with a code", () => {
    writeFileSync(join(folder, "file"), "");
    const codes: string[] = [];
    const attempts = [
      () => new Outputs(join(folder, "file")),
      () => {
        mkdirSync(join(folder, "passes.jsonl.part"));
        return new Outputs(folder);
      },
      () => {
        mkdirSync(join(folder, "taken", "summary.json"), { recursive: true });
        return new Outputs(join(folder, "taken")).document("summary", "{}");
      },
    ];
    for (const attempt of attempts) {
      try {
        attempt();
      } catch (error) {
        expect(error).toBeInstanceOf(OutputUnwritable);
        codes.push((error as OutputUnwritable).code);
      }
    }
    expect(codes).toEqual(["OUT-001", "OUT-002", "OUT-003"]);
  });
});
