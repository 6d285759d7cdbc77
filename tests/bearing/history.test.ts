import { describe, expect, test } from "vitest";
import { trackOf } from "../../src/bearing/history.ts";
import { journeyOf, legOf, passOf } from "./passes.ts";

/** Puts a marked reading on a rail, and levels the pass. */
function legWith(row: number, rail: 0 | 1, riseF: number, miles: number, direction: "rising" | "falling", flipped = false) {
  const pass = passOf({ axles: 80, seed: miles + 1, direction, begunMs: miles * 80_000 });
  pass.bearingRiseF[rail][row] = riseF;
  return legOf(pass, miles, flipped);
}

describe("a bearing's history is rebuilt from the legs", () => {
  test("a train reversed on the wye keeps its bearings", () => {
    // Roster axle 10, left side of travel at first. Rising: left rail. Reversed (last axle first) and rising again: the same
    // bearing is on the right of travel, so over the right rail, in row 79 - 10.
    const legs = [legWith(10, 0, 90, 0, "rising"), legWith(69, 1, 91, 20, "rising", true), legWith(69, 0, 92, 40, "falling", true)];
    const track = trackOf(journeyOf(legs), 10, 0);
    expect(track.map((reading) => reading.riseF)).toEqual([90, 91, 92]);
    expect(track.map((reading) => reading.miles)).toEqual([0, 20, 40]);
  });

  test("a leg that did not see the axle gives a reading that says so", () => {
    const missed = legWith(5, 0, 50, 15, "rising");
    missed.rosterOfRow[10] = -1;
    const track = trackOf(journeyOf([legWith(10, 0, 90, 0, "rising"), missed, legWith(10, 0, 95, 30, "rising")]), 10, 0);
    expect(track[1]!.riseF).toBeNaN();
    expect(track[1]!.excessF).toBeNaN();
    expect(track[1]!.miles).toBe(15);
    expect(track).toHaveLength(3);
  });

  test("only the legs asked for: what was known at the second site knows nothing of the third", () => {
    const legs = [0, 15, 30].map((miles) => legWith(10, 0, 80 + miles, miles, "rising"));
    expect(trackOf(journeyOf(legs), 10, 0, 1)).toEqual(trackOf(journeyOf(legs.slice(0, 2)), 10, 0));
  });

  test("the other end of the axle and the rest of the vehicle are beside each reading", () => {
    const pass = passOf({ axles: 80, spreadF: 2 });
    for (let row = 8; row < 12; row++) for (const rail of [0, 1] as const) pass.bearingRiseF[rail][row] = 78;
    const reading = trackOf(journeyOf([legOf(pass, 0)]), 9, 1)[0]!;
    expect(reading.mateExcessF).toBeCloseTo(50, -1);
    expect(reading.vehicleExcessF).toBeCloseTo(50, -1);
    expect(reading.wheelRiseF).toBe(75);
    expect(reading.timeMs).toBe(9 * 150);
  });
});
