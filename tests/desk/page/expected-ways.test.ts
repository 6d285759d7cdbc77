import { describe, expect, test } from "vitest";
import { waysOf } from "../../../src/desk/page/expected-ways.ts";

const at = (site: string, timeMs: number, over: string[]) => ({ site, timeMs, over });
const named = (ways: { site: string }[][]) => ways.map((way) => way.map(({ site }) => site));

describe("where a train is expected", () => {
  test("on one line are sites one after the other", () => {
    expect(named(waysOf([at("coldrill", 5, ["brock"]), at("brock", 2, [])]))).toEqual([["brock", "coldrill"]]);
  });

  test("where the line divides are two ways, not one that runs over both", () => {
    const ahead = [at("sable", 2, []), at("elmrigg", 3, []), at("tawny", 6, ["sable"]), at("fennick", 7, ["elmrigg"])];
    expect(named(waysOf(ahead))).toEqual([
      ["sable", "tawny"],
      ["elmrigg", "fennick"],
    ]);
  });

  test("behind a site that both ways pass are two ways that begin with it", () => {
    const ahead = [at("dunmere", 1, []), at("sable", 4, ["dunmere"]), at("elmrigg", 5, ["dunmere"])];
    expect(named(waysOf(ahead))).toEqual([
      ["dunmere", "sable"],
      ["dunmere", "elmrigg"],
    ]);
  });

  test("is nowhere when nothing is known ahead", () => {
    expect(waysOf([])).toEqual([]);
  });
});
