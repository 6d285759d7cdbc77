import { describe, expect, it } from "vitest";
import { trackOf } from "../../src/bearing/history.ts";
import type { Journey } from "../../src/journey/journey.ts";
import { type Look, limitExcessF, lookAt } from "../../src/warning/look.ts";
import { BOOK, journeyOf, LIMITS, passAt, START_MS, straightRailroad } from "./samples.ts";

const RAILROAD = straightRailroad(6);
const ROW = 6;

function twoSites(): Journey {
  return journeyOf([0, 1].map((s) => passAt(s, "Q1", START_MS + s * 900_000, [[ROW, 1, 40 + 60 * s]])));
}

function lookOf(journey: Journey, rosterAxle = ROW, side: 0 | 1 = 1): Look {
  const legIndex = journey.legs.length - 1;
  const track = trackOf(journey, rosterAxle, side, legIndex);
  return lookAt({
    railroad: RAILROAD,
    book: BOOK,
    journey,
    legIndex,
    rosterAxle,
    side,
    track,
    outlook: null,
    heat: "bearing",
    keyTrain: false,
  });
}

describe("a look", () => {
  it("holds the bearing, its mate, its side and the way ahead, as the train ran", () => {
    const look = lookOf(twoSites());
    expect(look).toMatchObject({
      siteName: "Site 1",
      riseF: 100,
      mateRiseF: 25,
      excessF: 75,
      sideMedianF: 25,
      readings: 2,
      milesSinceSeen: 0,
      speedMph: 40,
    });
    expect(look.ahead.map((way) => way.site)).toEqual(["s2", "s3"]);
    expect(look.place()).toMatch(/right side.*axle 7/);
    // The last axle of eight is 70 inches behind the seventh.
    expect(look.beyondMiles * 63_360).toBeCloseTo(70, 6);
  });

  it("of a bearing that was not measured says how far back it was seen last", () => {
    const journey = twoSites();
    journey.legs[1]!.pass.bearingRiseF[1][ROW] = Number.NaN;
    expect(lookOf(journey)).toMatchObject({ riseF: Number.NaN, milesSinceSeen: 10, readings: 1 });
    const missed = twoSites();
    missed.legs[1]!.rosterOfRow[ROW] = -1;
    expect(lookOf(missed)).toMatchObject({ riseF: Number.NaN, milesSinceSeen: 10 });
    expect(lookOf(missed).place()).toMatch(/axle 7/);
    expect(lookOf(missed).presence).toBe("not-counted");
    expect(lookOf(twoSites()).presence).toBe("here");
  });

  it("of a bearing whose vehicle left the train says so, not only that one axle was missed", () => {
    const journey = twoSites();
    const before = journey.legs[0]!;
    const vehicle = before.pass.vehicles[before.pass.vehicleOfAxle[ROW]!]!;
    for (let row = vehicle.firstRow; row < vehicle.firstRow + vehicle.axles; row++) {
      const axle = before.rosterOfRow[row]!;
      journey.legs[1]!.rosterOfRow[journey.legs[1]!.rosterOfRow.indexOf(axle)] = -1;
    }
    expect(lookOf(journey)).toMatchObject({ presence: "gone", riseF: Number.NaN });
    expect(lookOf(journey).vehicle()).toBe("car 2 from the head");
  });

  it("takes the speed over the way where the site sent none, and none where that is unknown too", () => {
    const journey = twoSites();
    journey.legs[1]!.pass.speedMph.fill(Number.NaN);
    expect(lookOf(journey).speedMph).toBeNaN();
    journey.legs[1]!.pass.speedMph.fill(2);
    expect(lookOf(journey).speedMph).toBeNaN();
  });

  it("says what is doubted of its own scanner and not of the other", () => {
    const journey = twoSites();
    journey.legs[1]!.pass.flags.push("scanner-right", "slow");
    journey.legs[1]!.levels.doubts[1].push("scanner-flagged", "side-hot");
    journey.legs[1]!.directionDoubted = true;
    expect(lookOf(journey).doubts).toEqual([
      "the train ran slowly over the site, which can change a reading",
      "the site doubts its own scanner of this side",
      "the whole side of the train reads hotter than the other side, as in the sun or with a sick scanner",
      "the site reported the other direction of travel",
    ]);
    expect(lookOf(journey, ROW, 0).doubts).not.toContain("the site doubts its own scanner of this side");
  });
});

describe("the limit over the side of the train", () => {
  it("is the limit less the level of the bearing's own kind, bias out, or the side's median where it was not measured", () => {
    const { legs } = twoSites();
    expect(limitExcessF(LIMITS, legs[1]!, ROW, 1)).toBe(LIMITS.bearingF - 25);
    expect(limitExcessF(LIMITS, legs[1]!, -1, 1)).toBe(LIMITS.bearingF - 25);
    legs[1]!.levels.medianF[1] = Number.NaN;
    expect(limitExcessF(LIMITS, legs[1]!, -1, 1)).toBe(LIMITS.bearingF);
  });
});
