import { describe, expect, test } from "vitest";
import { lastToStopAt, setOutsAhead } from "../../src/desk/views/warning-view.ts";
import type { SetOut, Way } from "../../src/line/railroad.ts";
import type { Rules } from "../../src/warning/rule-set.ts";
import type { Warning } from "../../src/warning/warning.ts";

const place = (id: string): SetOut => ({ id, name: id, milepost: 1, carLengths: 10 }) as unknown as SetOut;

/** A trunk with one place, then two branches, each with a place of its own. */
const WAYS = [
  { site: "junction", miles: 10, over: [], setOuts: [{ setOut: place("trunk"), miles: 4 }] },
  {
    site: "east",
    miles: 22,
    over: ["junction"],
    setOuts: [
      { setOut: place("trunk"), miles: 4 },
      { setOut: place("east-yard"), miles: 15 },
    ],
  },
  {
    site: "west",
    miles: 25,
    over: ["junction"],
    setOuts: [
      { setOut: place("trunk"), miles: 4 },
      { setOut: place("west-yard"), miles: 18 },
    ],
  },
] as unknown as Way[];

const told = (heard: string[], lastMiles = 16) =>
  setOutsAhead({ setOut: null }, WAYS, lastMiles, new Set(heard)).map(({ name, inTime, onEveryWay, passed }) => [
    name,
    ...[inTime, onEveryWay, passed],
  ]);

test("a place before a junction lies on every way, one on a branch does not; in time are those before the last mile to stop", () => {
  expect(told([])).toEqual([
    ["trunk", true, true, false],
    ["east-yard", true, false, false],
    ["west-yard", false, false, false],
  ]);
});

test("a train heard on one branch has passed the trunk's and that branch's places, and not the other's", () => {
  expect(told(["junction"]).map(([name, , , passed]) => [name, passed])).toEqual([
    ["trunk", true],
    ["east-yard", false],
    ["west-yard", false],
  ]);
  expect(told(["east"]).map(([name, , , passed]) => [name, passed])).toEqual([
    ["trunk", true],
    ["east-yard", true],
    ["west-yard", false],
  ]);
});

describe("the last mile to stop at", () => {
  const rules = { train: { stoppingMiles: 1.5, assumedSpeedMph: 40 }, hazard: { assumedGapMiles: 25 } } as unknown as Rules;
  const crossing = { low: 8 } as Warning["crossing"];
  const nextSite = { site: "east", miles: 12 };

  test("lies before the low end of the crossing, else before the next site that measures, else before the assumed gap", () => {
    expect(lastToStopAt({ level: "warn", crossing, nextSite }, 0, rules)).toBe(6.5);
    expect(lastToStopAt({ level: "warn", crossing: null, nextSite }, 0, rules)).toBe(10.5);
    expect(lastToStopAt({ level: "warn", crossing: null, nextSite: null }, 0, rules)).toBe(23.5);
  });

  test("is counted on from the site that held the axle last, for the engine counts from where the train was heard last", () => {
    expect(lastToStopAt({ level: "warn", crossing, nextSite }, 9, rules)).toBe(15.5);
  });

  test("is none at the limit, however far the train went on", () => {
    expect(lastToStopAt({ level: "limit", crossing, nextSite }, 9, rules)).toBe(0);
  });
});
