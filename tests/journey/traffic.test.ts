import { expect, test } from "vitest";
import { mixedTraffic, run, tally } from "./traffic.ts";

/*
 * Guards of the measured joins on this room's own traffic: a quarter of it unit trains of two makes, 3 % of legs with
 * cars set out, 3 % picked up, 3 % of trains turning at a site, 1 % of passes unheard. Guards are set below what is
 * measured, with room for chance: this is one small sample.
 */

test("in mixed traffic without any id next to nothing is joined wrongly, and little is left undone", () => {
  const passes = run({ ...mixedTraffic, seed: 77, trains: 120 });
  const result = tally(mixedTraffic, passes);
  expect(result.wrong).toBe(0);
  expect(result.right / result.passes).toBeGreaterThan(0.975);
  expect(result.same / (result.same + result.lost)).toBeGreaterThan(0.98);
});

test("with ids in half of the trains and bearings that keep their warmth nearly all is joined and keeps its name", () => {
  const plan = { ...mixedTraffic, seed: 154, trains: 120, idShare: 0.5, warm: true };
  const result = tally(plan, run(plan));
  expect(result.wrong).toBe(0);
  expect(result.right / result.passes).toBeGreaterThan(0.99);
  expect(result.same / (result.same + result.lost)).toBeGreaterThan(0.998);
});

test("a unit train is not taken for a longer sister that set cars out", () => {
  const plan = { ...mixedTraffic, seed: 154, trains: 200, turnShare: 0, unitShare: 0.5 };
  expect(tally(plan, run(plan)).wrongs).toEqual([]);
});
