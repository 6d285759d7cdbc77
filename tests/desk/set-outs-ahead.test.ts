import { expect, test } from "vitest";
import { setOutsAhead } from "../../src/desk/views/warning-view.ts";
import type { SetOut, Way } from "../../src/line/railroad.ts";

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
