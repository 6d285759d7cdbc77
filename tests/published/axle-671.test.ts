import { describe, expect, test } from "vitest";
import { placeOf, placeWords } from "../../src/pass/place.ts";
import { findVehicles } from "../../src/pass/vehicles.ts";
import { type Built, overSite, seeded } from "../pass/train.ts";

/**
 * NTSB investigation RRD23FR011: a train of 213 cars [P], 1 locomotive ahead and 2 mid-train [P]; 253 °F above ambient
 * on axle 671 [S], the 164th car [S]. All three locomotives six-axle, so that 3 x 6 + 163 x 4 + 1 = 671 [D].
 * Where mid-train the two stood was not published in what could be read: every place among the first 163 cars gives the
 * same axle, and the places tried here are our assumption. Spacings are our own.
 */
describe("axle 671 of a train of 213 cars with one locomotive ahead and two mid-train", () => {
  const engine: Built = { kind: "locomotive", trucks: [3, 3], inside: [83, 81, 372, 81, 83], overhangInches: 62 };
  const long: Built = { kind: "car", trucks: [2, 2], inside: [70, 470, 70], overhangInches: 44 };
  const short: Built = { kind: "car", trucks: [2, 2], inside: [70, 350, 70], overhangInches: 46 };
  const cars = Array.from({ length: 213 }, (_, k) => (k % 7 < 4 ? long : short));
  const trainWith = (carsAhead: number) => [engine, ...cars.slice(0, carsAhead), engine, engine, ...cars.slice(carsAhead)];
  const ordinary = { scale: 1.008, noiseInches: 1, missed: 0, doubled: 0 };

  test.each([1, 60, 104, 163])("is the first axle of car 164, %i cars standing before the mid-train locomotives", (carsAhead) => {
    const pass = findVehicles(overSite(trainWith(carsAhead), ordinary, seeded(671)), null);
    const place = placeOf(pass, 670)!;
    expect(place.vehicle).toMatchObject({ kind: "car", ordinalOfKind: 164, ordinal: 167 });
    expect(place).toMatchObject({ axleInVehicle: 1, truck: 1, axleInTruck: 1, about: false });
    expect(placeWords(pass, 670, 0)).toBe(
      "car 164 from the head, first axle of its front truck, left side in the direction of travel (axle 671)",
    );
    expect(pass.vehicles.filter((vehicle) => vehicle.kind === "locomotive")).toHaveLength(3);
    expect(pass.vehicleOfAxle).toHaveLength(870);
  });

  test("without the mid-train locomotives counted it would be told three cars too far back", () => {
    // 6 locomotive axles ahead only: (671 - 6 - 1) / 4 = 166, so car 167.
    const pass = findVehicles(overSite(trainWith(104), ordinary, seeded(1)), null);
    expect(placeOf(pass, 670)!.vehicle.ordinalOfKind).not.toBe(167);
  });
});
