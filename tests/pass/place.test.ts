import { describe, expect, test } from "vitest";
import { placeOf, placeWords } from "../../src/pass/place.ts";
import { findVehicles } from "../../src/pass/vehicles.ts";
import { type Built, overSite, seeded } from "./train.ts";

const engine: Built = { kind: "locomotive", trucks: [3, 3], inside: [82, 80, 380, 80, 82], overhangInches: 60 };
const boxcar: Built = { kind: "car", trucks: [2, 2], inside: [70, 416, 70], overhangInches: 45 };
const wells: Built = { kind: "car", trucks: [2, 2, 2, 2], inside: [70, 480, 70, 470, 70, 480, 70], overhangInches: 45 };
const exact = { scale: 1, noiseInches: 0, missed: 0, doubled: 0 };
const found = (train: Built[]) => findVehicles(overSite(train, exact, seeded(1)), null);

describe("words for the crew", () => {
  const train = found([engine, ...Array.from({ length: 60 }, () => boxcar), wells]);

  test("a car is counted without the locomotives, its trucks and axles from the head", () => {
    expect(placeWords(train, 6 + 46 * 4 + 3, 1)).toBe(
      "car 47 from the head, second axle of its rear truck, right side in the direction of travel (axle 194)",
    );
    expect(placeWords(train, 6, 0)).toBe(
      "car 1 from the head, first axle of its front truck, left side in the direction of travel (axle 7)",
    );
  });

  test("a locomotive and an articulated car", () => {
    expect(placeWords(train, 5, 0)).toBe(
      "locomotive 1 from the head, third axle of its rear truck, left side in the direction of travel (axle 6)",
    );
    expect(placeWords(train, 6 + 240 + 2, 0)).toContain("car 61 from the head, first axle of its second truck of 4, left side");
  });

  test("the vehicle's own number is told when it is known", () => {
    const named = structuredClone(train);
    named.vehicles[3]!.id = "QX 100123";
    expect(placeWords(named, named.vehicles[3]!.firstRow, 1)).toContain("car 3 from the head (QX 100123), first axle");
  });

  test("a doubtful vehicle, and every one behind a doubtful count, is told as about", () => {
    const doubted = structuredClone(train);
    doubted.vehicles[10]!.confidence = 0.6;
    expect(placeWords(doubted, doubted.vehicles[9]!.firstRow, 0)).toMatch(/^car 9 /);
    expect(placeWords(doubted, doubted.vehicles[10]!.firstRow, 0)).toMatch(/^about car 10 /);
    expect(placeWords(doubted, doubted.vehicles[40]!.firstRow, 0)).toMatch(/^about car 40 /);
  });

  test("an axle of no vehicle is told by its number alone", () => {
    expect(placeWords({ vehicles: [], vehicleOfAxle: new Int16Array([-1]) }, 0, 1)).toBe(
      "axle 1 from the head, right side in the direction of travel; which vehicle it belongs to could not be told",
    );
    expect(placeOf({ vehicles: [], vehicleOfAxle: new Int16Array([-1]) }, 0)).toBeNull();
  });

  test("the fields of a place say the same as its words", () => {
    expect(placeOf(train, 6 + 46 * 4 + 3)).toMatchObject({
      axleInVehicle: 4,
      axlesInVehicle: 4,
      truck: 2,
      trucks: 2,
      axleInTruck: 2,
      axlesInTruck: 2,
      about: false,
    });
    expect(placeOf(train, 3)).toMatchObject({ axleInVehicle: 4, axlesInVehicle: 6, truck: 2, trucks: 2, axleInTruck: 1, axlesInTruck: 3 });
  });

  test("a car with an axle missed says so rather than name a wrong axle", () => {
    const holed = findVehicles(
      { axles: 15, gapInches: Float32Array.from([Number.NaN, 70, 416, 70, 90, 70, 416, 70, 90, 486, 70, 90, 70, 416, 70]) },
      null,
    );
    const row = 8;
    expect(placeWords({ ...holed }, row, 0)).toContain("as counted with one axle missed");
  });
});
