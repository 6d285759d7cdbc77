import { readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import { readLine } from "../../src/line/line-file.ts";
import { readYaml } from "../../src/line/yaml-source.ts";
import { liveConfig } from "../../src/live/config.ts";
import { readRules } from "../../src/warning/rules.ts";

const LINE = readFileSync("replay-data/line.yaml", "utf8");
const RULES = readFileSync("replay-data/rules/standard/2026-03-01.yaml", "utf8");
const CONFIG = readFileSync("deploy/live.yaml", "utf8");
const FEED = '{"topic":"site-reports","key":"a","value":{}}\n{"topic":"site-reports","key":"a","value":{}}\n';

const says = (mistakes: readonly { code: string; says: string }[]) => mistakes.map((mistake) => `${mistake.code} ${mistake.says}`);

describe("a file in the place of another", () => {
  test("is told by one word instead of its every mistake", () => {
    expect(says(readLine(RULES, "x.yaml").mistakes)).toEqual(["wrong-file is a rules file"]);
    expect(says(readLine(CONFIG, "x.yaml").mistakes)).toEqual(["wrong-file is the configuration of a running process"]);
    expect(says(readRules(LINE, "x.yaml").mistakes)).toEqual(["wrong-file is a line file"]);
    expect(says(readYaml(LINE, "x.yaml", liveConfig).mistakes)).toEqual(["wrong-file is a line file"]);
    expect(says(readYaml(RULES, "x.yaml", liveConfig).mistakes)).toEqual(["wrong-file is a rules file"]);
  });

  test("a feed is one, of one record as of many", () => {
    const one = FEED.split("\n")[0]!;
    for (const text of [FEED, one]) expect(says(readLine(text, "x.yaml").mistakes)).toEqual(["wrong-file is a feed"]);
  });

  test("the right file with a mistake has its mistakes told, also where it holds a key of another kind", () => {
    expect(readLine(LINE, "x.yaml").mistakes).toEqual([]);
    const codes = readLine(`${LINE}\ndataFolder: data\n`, "x.yaml").mistakes.map(({ code }) => code);
    expect(codes).toEqual(["unknown-key"]);
    expect(readRules(RULES.replace("bearingF: 170", "bearingF: far"), "x.yaml").mistakes[0]?.code).not.toBe("wrong-file");
  });
});
