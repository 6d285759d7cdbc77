import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Vehicle } from "../../src/pass/vehicle.ts";
import { findVehicles } from "../../src/pass/vehicles.ts";
import { articulated, type Built, between, buildTrain, car, overSite, type SiteFaults, seeded, type TrainOnSite } from "./train.ts";

const exact: SiteFaults = { scale: 1, noiseInches: 0, missed: 0, doubled: 0 };
/** The goal's site: 1 % of spacing scale, 1 inch of noise, one axle missed or doubled in 2,000. */
const ordinary = (random: () => number): SiteFaults => ({
  scale: between(random, 0.99, 1.01),
  noiseInches: 1,
  missed: 0.00025,
  doubled: 0.00025,
});

interface Tally {
  cars: number;
  carsRight: number;
  /** By tenth of stated confidence: vehicles stated, of them right, and the sum of what was stated. */
  tenths: { stated: number; right: number; sum: number }[];
}

function tally(): Tally {
  return { cars: 0, carsRight: 0, tenths: Array.from({ length: 10 }, () => ({ stated: 0, right: 0, sum: 0 })) };
}

function compare(onSite: TrainOnSite, into: Tally): void {
  const { vehicles } = findVehicles(onSite, null);
  const byRow = new Map<number, Vehicle>(vehicles.map((vehicle) => [vehicle.firstRow, vehicle]));
  const truth = new Map(onSite.bounds.map((bound) => [bound.firstRow, bound]));
  for (const bound of onSite.bounds) {
    if (bound.kind !== "car") continue;
    const found = byRow.get(bound.firstRow);
    into.cars++;
    if (found !== undefined && found.axles === bound.rows && found.kind === bound.kind) into.carsRight++;
  }
  for (const vehicle of vehicles) {
    const bound = truth.get(vehicle.firstRow);
    const tenth = into.tenths[Math.min(9, Math.floor(vehicle.confidence * 10))]!;
    tenth.stated++;
    tenth.sum += vehicle.confidence;
    if (bound !== undefined && bound.rows === vehicle.axles && bound.kind === vehicle.kind) tenth.right++;
  }
}

function measure(trains: number, faults: (random: () => number) => SiteFaults, firstSeed: number): Tally {
  const into = tally();
  for (let seed = firstSeed; seed < firstSeed + trains; seed++) {
    const random = seeded(seed);
    const train = buildTrain(random);
    compare(overSite(train, faults(random), random), into);
  }
  return into;
}

describe("vehicles from spacings alone", () => {
  test("at least 99.5 % of cars are right at an ordinary site", () => {
    const { cars, carsRight } = measure(600, ordinary, 1);
    expect(cars).toBeGreaterThan(40_000);
    expect(carsRight / cars).toBeGreaterThan(0.998);
  });

  test("a site that miscounts twenty times as often still has 99.5 % of cars right", () => {
    const sick = (random: () => number): SiteFaults => ({ ...ordinary(random), missed: 0.005, doubled: 0.005 });
    const { cars, carsRight } = measure(200, sick, 5001);
    expect(carsRight / cars).toBeGreaterThan(0.995);
  });

  test("stated confidence is what is right: each tenth of it within the 95 % interval of the observed share", () => {
    const sick = (random: () => number): SiteFaults => ({ ...ordinary(random), missed: 0.005, doubled: 0.005 });
    // None of these seeds was fitted on.
    const { tenths } = measure(4000, sick, 5_000_001);
    let judged = 0;
    for (const { stated, right, sum } of tenths) {
      if (stated < 20) continue;
      judged++;
      const mean = sum / stated;
      // Wilson interval of the observed share at 95 %.
      const z = 1.96;
      const share = right / stated;
      const centre = (share + (z * z) / (2 * stated)) / (1 + (z * z) / stated);
      const half = (z * Math.sqrt((share * (1 - share)) / stated + (z * z) / (4 * stated * stated))) / (1 + (z * z) / stated);
      expect([mean >= centre - half - 0.001, mean <= centre + half + 0.001, mean, centre, half, stated]).toEqual([
        true,
        true,
        mean,
        centre,
        half,
        stated,
      ]);
    }
    expect(judged).toBeGreaterThanOrEqual(3);
  });

  test("without faults every vehicle is found, with every truck", () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1e6 }), (seed) => {
        const random = seeded(seed);
        const train = buildTrain(random);
        const { vehicles, vehicleOfAxle } = findVehicles(overSite(train, exact, random), null);
        expect(vehicles.map(({ kind, trucks }) => [kind, trucks])).toEqual(train.map(({ kind, trucks }) => [kind, trucks]));
        expect(vehicleOfAxle.includes(-1)).toBe(false);
      }),
      { numRuns: 150, seed: 5 },
    );
  });

  test("rows of a vehicle are consecutive, ordinals rise and count by kind", () => {
    fc.assert(
      fc.property(
        fc.array(fc.oneof(fc.float({ min: 0, max: 1500 }), fc.constant(Number.NaN), fc.integer({ min: 60, max: 90 })), { maxLength: 200 }),
        (gaps) => {
          const { vehicles, vehicleOfAxle } = findVehicles({ axles: gaps.length, gapInches: Float32Array.from(gaps) }, null);
          const kinds = { car: 0, locomotive: 0 };
          vehicles.forEach((vehicle, index) => {
            expect(vehicle.ordinal).toBe(index + 1);
            expect(vehicle.ordinalOfKind).toBe(++kinds[vehicle.kind]);
            expect(vehicle.trucks.reduce((a, b) => a + b, 0)).toBe(vehicle.axles);
            for (let row = vehicle.firstRow; row < vehicle.firstRow + vehicle.axles; row++) expect(vehicleOfAxle[row]).toBe(index);
            expect(vehicle.confidence).toBeGreaterThanOrEqual(0);
            expect(vehicle.confidence).toBeLessThanOrEqual(1);
          });
          const assigned = vehicleOfAxle.reduce((sum, index) => sum + (index >= 0 ? 1 : 0), 0);
          expect(vehicles.reduce((sum, vehicle) => sum + vehicle.axles, 0)).toBe(assigned);
        },
      ),
      { numRuns: 400, seed: 6 },
    );
  });
});

describe("trains of long couplings", () => {
  /** Articulated cars and long flats, couplings of 12 to 19 ft and more, as the plain scan and the chain share them. */
  const intermodal = (random: () => number): Built[] =>
    buildTrain(random, 60).flatMap((vehicle) => {
      if (vehicle.kind !== "car") return [vehicle];
      if (random() < 0.5) return [{ ...articulated(random), overhangInches: between(random, 70, 95) }];
      const flat: Built = {
        kind: "car",
        trucks: [2, 2],
        inside: [70, between(random, 640, 722), 70],
        overhangInches: between(random, 90, 120),
      };
      return random() < 0.5 ? [flat] : [vehicle];
    });

  test("at a site that miscounts twenty times as often, 99.5 % of vehicles are right and what is called sure is", () => {
    let vehicles = 0;
    let right = 0;
    let sure = 0;
    let sureRight = 0;
    for (let seed = 900_001; seed <= 900_300; seed++) {
      const random = seeded(seed);
      const train = overSite(intermodal(random), { ...ordinary(random), missed: 0.005, doubled: 0.005 }, random);
      const truth = new Map(train.bounds.map((bound) => [bound.firstRow, bound]));
      for (const { firstRow, axles, kind, confidence } of findVehicles(train, null).vehicles) {
        const bound = truth.get(firstRow);
        const isRight = bound !== undefined && bound.rows === axles && bound.kind === kind;
        vehicles++;
        if (isRight) right++;
        if (confidence < 0.999) continue;
        sure++;
        if (isRight) sureRight++;
      }
    }
    expect(right / vehicles).toBeGreaterThan(0.995);
    expect(sureRight / sure).toBeGreaterThan(0.9995);
    expect(sure / vehicles).toBeGreaterThan(0.9);
  });

  test("an axle missed beside a coupling as long as a truck and a coupling together is found in its own car", () => {
    const cars = Array.from({ length: 8 }, () => ({ ...articulated(seeded(11)), overhangInches: 90 }));
    const exactly = overSite(cars, exact, seeded(1));
    for (const bound of exactly.bounds.slice(1, 7)) {
      for (const axle of [bound.firstRow, bound.firstRow + bound.rows - 1]) {
        const gaps = Array.from(exactly.gapInches);
        gaps[axle + 1] = gaps[axle + 1]! + gaps[axle]!;
        gaps.splice(axle, 1);
        const { vehicles } = findVehicles({ axles: gaps.length, gapInches: Float32Array.from(gaps) }, null);
        expect(vehicles.map(({ axles }) => axles)).toEqual(exactly.bounds.map((other) => other.rows - (other === bound ? 1 : 0)));
      }
    }
  });
});

describe("kinds of vehicle", () => {
  const engine: Built = { kind: "locomotive", trucks: [3, 3], inside: [82, 80, 380, 80, 82], overhangInches: 60 };
  const short: Built = { kind: "locomotive", trucks: [2, 2], inside: [108, 300, 108], overhangInches: 75 };
  const boxcar: Built = { kind: "car", trucks: [2, 2], inside: [70, 416, 70], overhangInches: 45 };
  const flat: Built = { kind: "car", trucks: [2, 2], inside: [70, 722, 70], overhangInches: 130 };
  const ore: Built = { kind: "car", trucks: [2, 2], inside: [68, 118, 68], overhangInches: 38 };
  const trucks = (train: Built[], faults = exact) =>
    findVehicles(overSite(train, faults, seeded(7)), null).vehicles.map((vehicle) => [vehicle.kind, ...vehicle.trucks]);

  test("locomotives of four and six axles, ahead and mid-train", () => {
    expect(trucks([engine, short, boxcar, boxcar, engine, boxcar])).toEqual([
      ["locomotive", 3, 3],
      ["locomotive", 2, 2],
      ["car", 2, 2],
      ["car", 2, 2],
      ["locomotive", 3, 3],
      ["car", 2, 2],
    ]);
  });

  test("long flats with long overhangs are no articulated cars", () => {
    expect(trucks([engine, boxcar, flat, flat, flat, boxcar]).slice(1)).toEqual(Array.from({ length: 5 }, () => ["car", 2, 2]));
  });

  test("short cars whose inner gap is hardly longer than a coupling keep their bounds from the rest of the train", () => {
    const found = findVehicles(
      overSite([engine, ...Array.from({ length: 60 }, () => ore)], { ...exact, noiseInches: 1 }, seeded(8)),
      null,
    ).vehicles;
    expect(found.map((vehicle) => vehicle.axles)).toEqual([6, ...Array.from({ length: 60 }, () => 4)]);
  });

  test("articulated cars of three and five units share trucks", () => {
    for (let seed = 1; seed < 40; seed++) {
      const model = articulated(seeded(seed));
      expect(trucks([engine, boxcar, model, model, boxcar]).slice(2, 4)).toEqual([
        ["car", ...model.trucks],
        ["car", ...model.trucks],
      ]);
    }
  });

  test("a train shorter than any vehicle and an empty one are no trouble", () => {
    expect(findVehicles({ axles: 0, gapInches: new Float32Array(0) }, null).vehicles).toEqual([]);
    expect(findVehicles({ axles: 2, gapInches: Float32Array.from([Number.NaN, 70]) }, null).vehicleOfAxle).toHaveLength(2);
  });
});

describe("an axle missed or counted twice", () => {
  const boxcars = (seed: number) => Array.from({ length: 12 }, () => car(seeded(seed)));
  const gapsOf = (seed: number) => Array.from(overSite(boxcars(seed), exact, seeded(1)).gapInches);

  test("inside a car: only that car is odd, every other one keeps its bounds", () => {
    for (let axle = 1; axle < 47; axle++) {
      const gaps = gapsOf(3);
      gaps[axle + 1] = gaps[axle + 1]! + gaps[axle]!;
      gaps.splice(axle, 1);
      const { vehicles } = findVehicles({ axles: gaps.length, gapInches: Float32Array.from(gaps) }, null);
      expect(vehicles.map((vehicle) => vehicle.axles)).toEqual(Array.from({ length: 12 }, (_, k) => (k === axle >> 2 ? 3 : 4)));
      expect(vehicles[axle >> 2]!.odd).toBe("axle-missed");
    }
  });

  test("counted twice: the car has five rows, the rest is as it was", () => {
    for (let axle = 1; axle < 47; axle++) {
      const gaps = gapsOf(4);
      gaps.splice(axle + 1, 0, 12);
      gaps[axle + 2] = gaps[axle + 2]! - 12;
      const { vehicles } = findVehicles({ axles: gaps.length, gapInches: Float32Array.from(gaps) }, null);
      expect(vehicles.map((vehicle) => vehicle.axles)).toEqual(Array.from({ length: 12 }, (_, k) => (k === axle >> 2 ? 5 : 4)));
      expect(vehicles[axle >> 2]!.odd).toBe("axle-doubled");
    }
  });

  test("a lost group of axles leaves the count of cars in place", () => {
    const train = overSite([...boxcars(5), ...boxcars(6)], { ...exact, noiseInches: 1 }, seeded(2));
    for (let row = 30; row < 46; row++) train.gapInches[row] = Number.NaN;
    const { vehicles } = findVehicles(train, null);
    expect(vehicles).toHaveLength(24);
    expect(vehicles.map((vehicle) => vehicle.firstRow)).toEqual(train.bounds.map((bound) => bound.firstRow));
    expect(vehicles[9]!.confidence).toBeLessThan(vehicles[2]!.confidence);
  });
});
