import { describe, expect, it } from "vitest";
import { HISTORY_LEGS, trackOf } from "../../src/bearing/history.ts";
import { bare, pack, slim } from "../../src/flow/bare-leg.ts";
import type { Leg } from "../../src/journey/journey.ts";
import { journeyOf, legOf, passOf } from "../bearing/passes.ts";

const MILES = 15;

function longJourney(legs: number): Leg[] {
  return Array.from({ length: legs }, (_, at) =>
    legOf(passOf({ axles: 80, seed: at + 1, direction: "rising", begunMs: at * 1_200_000 }), at * MILES),
  );
}

/** Every track of a journey's newest leg: all that a look can see of the legs before. */
function tracks(legs: Leg[]): unknown[] {
  return Array.from({ length: 160 }, (_, bearing) => trackOf(journeyOf(legs), bearing >> 1, (bearing & 1) as 0 | 1));
}

describe("a leg let go", () => {
  it("packed, slim or not, tells every later look the same", () => {
    const legs = longJourney(6);
    legs[2]!.rosterOfRow[7] = -1;
    const before = tracks(legs);
    const vehicles = legs.map(({ pass }) => structuredClone(pass.vehicles));
    const indexes = legs.map(({ pass }) => pass.vehicleOfAxle.slice());
    for (let at = 0; at < 4; at++) pack(legs[at] as Leg, legs[at - 1] ?? null);
    for (const leg of legs.slice(0, 3)) slim(leg);
    expect(tracks(legs)).toEqual(before);
    expect(legs.map(({ pass }) => pass.vehicles)).toEqual(vehicles);
    expect(legs.map(({ pass }) => pass.vehicleOfAxle)).toEqual(indexes);
    expect(legs[3]!.pass.bearingRiseF[0]).toHaveLength(0);
    expect(legs[3]!.levels.excessF[0]).toHaveLength(0);
    expect(legs[3]!.pass.gapInches).toHaveLength(80);
    expect(legs[2]!.pass.gapInches).toHaveLength(0);
  });

  it("stays as it is where packing would change a reading", () => {
    const legs = longJourney(2);
    legs[0]!.pass.bearingRiseF[0][3] = 400.01;
    const before = tracks(legs);
    pack(legs[0] as Leg, null);
    expect(tracks(legs)).toEqual(before);
    expect(legs[0]!.pass.bearingRiseF[0]).toHaveLength(80);
  });

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

  it.each([false, true])("still tells where and when the train was, and holds no column any more (packed before: %s)", (isPacked) => {
    const leg = longJourney(1)[0] as Leg;
    if (isPacked) pack(leg, null);
    const { miles } = leg;
    const { site, begunMs, id } = leg.pass;
    bare(leg);
    expect(leg).toMatchObject({ miles, pass: { site, begunMs, id, axles: 0, vehicles: [] } });
    expect(leg.pass.bearingRiseF[0]).toHaveLength(0);
    expect(leg.rosterOfRow).toHaveLength(0);
    expect(leg.packed ?? null).toBeNull();
  });
});
