import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { DayAccount } from "../../src/replay/account.ts";
import { type ComparedBearing, compareDays, type Run } from "../../src/replay/compare.ts";
import { comparisonText } from "../../src/replay/compare-text.ts";
import type { EvidenceReading, Level, Warning } from "../../src/warning/warning.ts";
import { journeyOf, legOf, MIDNIGHT, mainWay, passAt, replayJourney, sampleRailroad, warningAt } from "./sample.ts";

const railroad = sampleRailroad();
const RISES = [38, 60, 90, 120, 150, 180];

function trainOf(name: string, number: number, rises = RISES) {
  return journeyOf({ train: name, sites: mainWay(rises.length), direction: "rising", startMs: MIDNIGHT, rises }, number);
}

/** One run of a day: each train with the leg at which each level was reached. */
function runOf(name: string, trains: { train: string; number: number; rises?: number[]; levels: [number, Level][] }[]): Run {
  const account = new DayAccount(railroad);
  account.addRules(name);
  for (const { train, number, rises, levels } of trains) {
    const journey = trainOf(train, number, rises);
    // Another rule set gives another id where it first said something.
    const id = `W-${train}-${levels[0]?.[0]}`;
    replayJourney(
      account,
      journey,
      levels.map(([leg, level], i) => warningAt(journey, leg, level, { id, version: i + 1 })),
    );
  }
  return { name, day: account.close() };
}

const trainsOf = (bearings: readonly ComparedBearing[]) => bearings.map(({ train }) => train);

describe("two rule sets over one day", () => {
  const standard = runOf("standard", [
    {
      train: "both",
      number: 1,
      levels: [
        [2, "warn"],
        [5, "limit"],
      ],
    },
    { train: "same", number: 2, levels: [[3, "warn"]] },
    { train: "only", number: 3, levels: [[5, "limit"]] },
    { train: "seen", number: 4, levels: [[1, "watch"]] },
  ]);
  const cautious = runOf("cautious", [
    {
      train: "both",
      number: 1,
      levels: [
        [1, "warn"],
        [5, "limit"],
      ],
    },
    {
      train: "same",
      number: 2,
      levels: [
        [2, "watch"],
        [3, "warn"],
      ],
    },
    { train: "more", number: 5, rises: [38, 90, 70, 60], levels: [[1, "warn"]] },
  ]);
  const comparison = compareDays(standard, cautious);

  test("which are only in one, which are earlier and by how many miles", () => {
    expect(trainsOf(comparison.onlyA)).toEqual(["only"]);
    expect(trainsOf(comparison.onlyB)).toEqual(["more"]);
    expect(trainsOf(comparison.earlierInB)).toEqual(["both"]);
    expect(comparison.earlierInB[0]?.laterInBMiles).toBe(-17.1);
    expect(trainsOf(comparison.same)).toEqual(["same"]);
    expect(comparison.watchedOnlyA).toBe(1);
  });

  test("what each costs in stops, and per 1,000 train passes", () => {
    expect(comparison.a.cost).toMatchObject({ passes: 24, stops: 3, stopsPer1000Passes: 125, limitWithoutEarlierWarn: 1 });
    expect(comparison.b.cost).toMatchObject({ passes: 16, stops: 3, cameToNothing: 2, limitWithoutEarlierWarn: 0 });
  });

  test("two bearings of one train at one pass are one stop", () => {
    const account = new DayAccount(railroad);
    const journey = trainOf("T", 1);
    replayJourney(account, journey, [
      warningAt(journey, 2, "warn", { id: "a" }),
      warningAt(journey, 2, "warn", { id: "b", side: "left" }),
      warningAt(journey, 3, "warn", { id: "c", axle: 6 }),
    ]);
    const run = { name: "x", day: account.close() };
    expect(compareDays(run, run).a.cost).toMatchObject({ acts: 3, stops: 2 });
  });

  test("the two ends of an axle are two bearings, also where only one of them was warned of on each side", () => {
    const journey = trainOf("T", 1);
    const one = (more: Partial<Warning>): Run => {
      const account = new DayAccount(railroad);
      replayJourney(account, journey, [warningAt(journey, 2, "warn", more)]);
      return { name: "x", day: account.close() };
    };
    const { onlyA, onlyB, same } = compareDays(one({ side: "left" }), one({ side: "right" }));
    expect([onlyA.length, onlyB.length, same.length]).toEqual([1, 1, 0]);
  });

  test("a train that came back reversed: the same bearing, though its axle and side have other names there", () => {
    const journey = trainOf("T", 1, [38, 60, 90]);
    const [, , last] = journey.legs;
    const back = passAt("brock-27", "2", 9, (last?.pass.endedMs ?? 0) + 3_600_000, { direction: "falling" });
    back.bearingRiseF[1][3] = 120;
    const rosterOfRow = Int32Array.from({ length: 8 }, (_, row) => 7 - row);
    journey.legs.push(legOf(back, 60, last?.pass.id ?? null, { flipped: true, rosterOfRow }));
    const before = warningAt(journey, 2, "warn");
    const row = { ...(before.evidence[2] as EvidenceReading), pass: back.id, site: back.site, miles: 60, axle: 4, riseF: 120 };
    const after = { ...before, pass: back.id, axle: 4, side: "left" as const, evidence: [...before.evidence, row] };
    const runWith = (warning: Warning): Run => {
      const account = new DayAccount(railroad);
      replayJourney(account, journey, [warning]);
      return { name: "x", day: account.close() };
    };
    const { earlierInA } = compareDays(runWith(before), runWith(after));
    expect(earlierInA.map(({ laterInBMiles }) => laterInBMiles)).toEqual([30.1]);
  });

  const levels = fc.constantFrom<[number, Level][]>(
    [],
    [[1, "warn"]],
    [
      [2, "warn"],
      [5, "limit"],
    ],
    [[5, "limit"]],
    [
      [1, "watch"],
      [3, "warn"],
    ],
  );
  const days = fc.array(fc.tuple(levels, levels), { maxLength: 6 });

  test("a day against itself differs in nothing; swapping the rule sets swaps the answer; no bearing is lost", () => {
    fc.assert(
      fc.property(days, (trains) => {
        const side = (which: 0 | 1) =>
          runOf(
            String(which),
            trains.map((both, i) => ({ train: `T${i}`, number: i + 1, levels: both[which] })),
          );
        const [a, b] = [side(0), side(1)];
        const there = compareDays(a, b);
        const back = compareDays(b, a);
        const itself = compareDays(a, a);
        expect([itself.onlyA, itself.onlyB, itself.earlierInA, itself.earlierInB].flat()).toEqual([]);
        expect(trainsOf(there.onlyA)).toEqual(trainsOf(back.onlyB));
        expect(trainsOf(there.earlierInB)).toEqual(trainsOf(back.earlierInA));
        expect(there.a.cost).toEqual(back.b.cost);
        const acts = there.same.length + there.earlierInA.length + there.earlierInB.length;
        expect(acts + there.onlyA.length).toBe(there.a.cost.acts);
        expect(acts + there.onlyB.length).toBe(there.b.cost.acts);
      }),
      { numRuns: 60, seed: 7 },
    );
  });

  test("the text says it in the same words", () => {
    const text = comparisonText(comparison);
    expect(text).toMatch(/stops asked for +3 +3/);
    expect(text).toContain("Acted upon only under B: 1");
    expect(text).toContain("17.10 miles earlier under B; the bearing reached the limit");
    expect(text).not.toMatch(/NaN|undefined/);
  });

  test("where the two limits differ it says whose was reached", () => {
    const rises = [38, 90, 150];
    const a = runOf("high", [{ train: "T", number: 1, rises, levels: [[1, "warn"]] }]);
    const levels: [number, Level][] = [
      [1, "warn"],
      [2, "limit"],
    ];
    const b = runOf("low", [
      { train: "T", number: 1, rises, levels },
      { train: "U", number: 2, rises, levels },
    ]);
    expect(compareDays(a, b).same[0]).toMatchObject({ reachedLimit: true, limitReachedUnder: "B" });
    expect(compareDays(b, a).same[0]).toMatchObject({ reachedLimit: true, limitReachedUnder: "A" });
    expect(comparisonText(compareDays(a, b))).toContain("the bearing reached the limit of B, not that of A");
    expect(comparison.earlierInB[0]?.limitReachedUnder).toBe("both");
  });

  test("a bearing is named to the end, in lines that fit a terminal", () => {
    const account = new DayAccount(railroad);
    const journey = trainOf("T", 1);
    const place = `car 15 from the head (${"QX 491816 ".repeat(8)}), first axle of its fifth truck of 6, right side (axle 77)`;
    replayJourney(account, journey, [warningAt(journey, 2, "warn", { place })]);
    const none = { name: "none", day: new DayAccount(railroad).close() };
    const text = comparisonText(compareDays({ name: "x", day: account.close() }, none));
    expect(text.replace(/\s+/g, " ")).toContain(place);
    for (const line of text.split("\n")) expect(line.length).toBeLessThanOrEqual(110);
  });

  test("a day without a pass has no cost per pass", () => {
    const empty = { name: "none", day: new DayAccount(railroad).close() };
    expect(compareDays(empty, empty).a.cost.stopsPer1000Passes).toBeNull();
    expect(comparisonText(compareDays(empty, empty))).toContain("–");
  });
});
