import { expect, it } from "vitest";
import { Bearings, type LookTaken } from "../../src/flow/bearings.ts";
import type { Presence } from "../../src/warning/look.ts";
import { BOOK, journeyOf, passAt, START_MS, straightRailroad } from "../warning/samples.ts";

const HOUR_MS = 3_600_000;
const HOT_ROW = 5;
const SECOND_CAR = [4, 5, 6, 7];

/** What is said of a bearing that was hot at the first site, when these axles are missing at each later one. */
function presences(missing: readonly (readonly number[])[]): (Presence | null)[] {
  const taken: LookTaken[] = [];
  const bearings = new Bearings("corridor", straightRailroad(missing.length + 1), BOOK, (one) => taken.push(one));
  const passes = [[], ...missing].map((_, site) => passAt(site, "T1", START_MS + site * HOUR_MS, site === 0 ? [[HOT_ROW, 1, 240]] : []));
  const journey = journeyOf(passes);
  for (const [site, rows] of missing.entries()) for (const row of rows) journey.legs[site + 1]!.rosterOfRow[row] = -1;
  const legs = [...journey.legs];
  journey.legs = [];
  return legs.map((leg, legIndex) => {
    journey.legs.push(leg);
    taken.length = 0;
    bearings.look(journey, legIndex, false);
    return taken.find(({ rosterAxle, side }) => rosterAxle === HOT_ROW && side === 1)?.look.presence ?? null;
  });
}

it("says of an axle that it was not counted, once, and that its vehicle is gone, once", () => {
  expect(presences([[HOT_ROW], [HOT_ROW], SECOND_CAR, SECOND_CAR])).toEqual(["here", "not-counted", null, "gone", null]);
});

it("says at once that the vehicle is gone when it is, and that an axle is there again", () => {
  expect(presences([SECOND_CAR, SECOND_CAR, []])).toEqual(["here", "gone", null, "here"]);
});
