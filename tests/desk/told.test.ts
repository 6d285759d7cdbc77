import { describe, expect, test } from "vitest";
import { compared, note, type Told } from "../../src/desk/told.ts";
import type { EvidenceReading, Warning } from "../../src/warning/warning.ts";
import { MINUTE_MS, START_MS, warning } from "./samples.ts";

const ABOUT = { rules: ["other"], against: ["now"], fromMs: START_MS, toMs: START_MS + 600 * MINUTE_MS, passes: 5 };
const timeOf = (n: number) => new Date(START_MS + n * 15 * MINUTE_MS).toISOString();

function reading(n: number, axle = 187, riseF = 50 + 10 * n): EvidenceReading {
  const read = { site: `site-${n}`, milepost: n * 10, miles: n * 10, pass: `pass-${n}`, axle, riseF, leveledF: 20 };
  return { ...read, time: timeOf(n), used: "used" } as EvidenceReading;
}

/** A version that the n-th site led to. */
function version(n: number, over: Partial<Warning> = {}): Warning {
  const { axle = 187 } = over;
  const evidence = Array.from({ length: n }, (_, i) => reading(i + 1, axle));
  return warning({ id: `J/pass-${n}`, pass: `pass-${n}`, site: `site-${n}`, axle, time: timeOf(n), evidence, level: "warn", ...over });
}

function told(...warnings: Warning[]): Told[] {
  const found = new Map<string, Told>();
  for (const one of warnings) note(found, one, START_MS);
  return [...found.values()];
}

describe("what other rules would have said", () => {
  test("is one line a bearing, wherever each rule set first spoke of it", () => {
    const asIs = told(version(4, { level: "limit", train: "Q118" }));
    const other = told(version(2, { train: "Q118" }), version(4, { id: "J/pass-2", version: 2, level: "limit", train: "Q118" }));
    const { bearings, counts } = compared(asIs, other, ABOUT);
    const limit = { level: "limit", timeMs: Date.parse(timeOf(4)) };
    expect(bearings).toMatchObject([{ train: "Q118", site: "site-4", asIs: limit, whatIf: limit, words: "the same" }]);
    expect(counts).toEqual({ same: 1, earlier: 0, later: 0, only: 0, lost: 0 });
  });

  test("is one line for a bearing that two corridors warned of, with the highest level of both", () => {
    const alder = version(3, { id: "W-A", corridor: "alder" });
    const birch = version(5, { id: "W-B", corridor: "birch", journey: "J-other", evidence: [reading(3), reading(4), reading(5)] });
    const { bearings, counts } = compared(told(alder), told(alder, { ...birch, level: "limit" }), ABOUT);
    expect(bearings.map(({ asIs, whatIf }) => [asIs?.level, whatIf?.level])).toEqual([["warn", "limit"]]);
    expect(counts.earlier).toBe(1);
  });

  test("keeps other axles and the other end apart, and lists what differs before what is the same", () => {
    const [one, next] = [version(3), version(3, { id: "W-188", axle: 188 })];
    const otherEnd = version(3, { id: "W-end", side: one.side === "left" ? "right" : "left", evidence: [reading(3, 187, 41)] });
    const { bearings, counts } = compared(told(one, next), told(one, otherEnd), ABOUT);
    expect(counts).toEqual({ same: 1, earlier: 0, later: 0, only: 1, lost: 1 });
    expect(bearings.at(-1)?.words).toBe("the same");
  });

  test("forgets what was withdrawn, and counts past the longest list what it does not show", () => {
    expect(told(version(3), version(3, { version: 2, state: "withdrawn" }))).toEqual([]);
    const many = Array.from({ length: 510 }, (_, i) => version(3, { id: `W-${i}`, axle: i + 1 }));
    const { bearings, counts } = compared(told(...many), told(...many.slice(1)), ABOUT);
    expect(counts).toMatchObject({ same: 509, lost: 1 });
    expect(bearings).toHaveLength(500);
    expect(bearings[0]?.words).toBe("not under the other rules");
  });
});
