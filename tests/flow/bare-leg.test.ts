import { describe, expect, it } from "vitest";
import { HISTORY_LEGS, trackOf } from "../../src/bearing/history.ts";
import { bare, slim } from "../../src/flow/bare-leg.ts";
import type { Leg } from "../../src/journey/journey.ts";
import { journeyOf, legOf, passOf } from "../bearing/passes.ts";

const MILES = 15;

function longJourney(legs: number): Leg[] {
  return Array.from({ length: legs }, (_, at) =>
    legOf(passOf({ axles: 80, seed: at + 1, direction: "rising", begunMs: at * 1_200_000 }), at * MILES),
  );
}

describe("a leg let go", () => {
  it("changes nothing that a later look sees, for it lies further back than any look goes", () => {
    const legs = longJourney(HISTORY_LEGS + 10);
    const settled = legs.length - 4;
    const looks = [settled + 1, settled + 2, legs.length - 1];
    const before = looks.map((upto) => trackOf(journeyOf(legs), 10, 0, upto));
    for (let at = 0; at <= settled - HISTORY_LEGS; at++) bare(legs[at] as Leg);
    expect(looks.map((upto) => trackOf(journeyOf(legs), 10, 0, upto))).toEqual(before);
  });

  it("without its spacings and speeds tells every later look the same", () => {
    const legs = longJourney(6);
    const before = trackOf(journeyOf(legs), 10, 1, 5);
    for (const leg of legs.slice(0, 4)) slim(leg);
    expect(trackOf(journeyOf(legs), 10, 1, 5)).toEqual(before);
    expect(legs[3]!.pass.gapInches).toHaveLength(0);
    expect(legs[3]!.pass.axles).toBe(80);
  });

  it("still tells where and when the train was, and holds no column any more", () => {
    const leg = longJourney(1)[0] as Leg;
    const { miles } = leg;
    const { site, begunMs, id } = leg.pass;
    bare(leg);
    expect(leg).toMatchObject({ miles, pass: { site, begunMs, id, axles: 0, vehicles: [] } });
    expect(leg.pass.bearingRiseF[0]).toHaveLength(0);
    expect(leg.rosterOfRow).toHaveLength(0);
  });
});
