import { describe, expect, test } from "vitest";
import type { Consist, ConsistVehicle } from "../../src/feed/record.ts";
import { namedVehicles } from "../../src/pass/consist.ts";
import { findVehicles } from "../../src/pass/vehicles.ts";
import { type Built, buildTrain, overSite, seeded } from "./train.ts";

const site = { scale: 1.005, noiseInches: 1, missed: 0, doubled: 0 };

function consistOf(train: Built[]): Consist {
  const vehicles = train.map((vehicle, k): ConsistVehicle => {
    const feet = (vehicle.inside.reduce((a, b) => a + b, 0) + 2 * vehicle.overhangInches) / 12;
    return { id: `QX ${1000 + k}`, kind: vehicle.kind, axles: vehicle.inside.length + 1, length: Math.round(feet * 10) / 10 };
  });
  return { type: "consist", train: "Q118", time: "2026-03-04T05:00:00Z", key: false, vehicles };
}

const ids = (train: Built[], consist: Consist, tags?: Map<number, string>) =>
  findVehicles({ ...overSite(train, site, seeded(3)), ...(tags === undefined ? {} : { tags }) }, consist).vehicles.map(
    (vehicle) => vehicle.id,
  );

describe("a consist", () => {
  test("names every vehicle of the train it describes, and makes it surer", () => {
    for (let seed = 1; seed < 30; seed++) {
      const train = buildTrain(seeded(seed), 60);
      const consist = consistOf(train);
      expect(ids(train, consist)).toEqual(consist.vehicles.map((vehicle) => vehicle.id));
    }
  });

  test("that comes once the vehicles are found names them as if it had been there before", () => {
    for (let seed = 1; seed < 30; seed++) {
      const train = buildTrain(seeded(seed), 60);
      const consist = consistOf(train);
      const seen = overSite(seed % 2 === 0 ? train : train.slice(0, 40), { ...site, missed: 0.001, doubled: 0.001 }, seeded(seed));
      const found = findVehicles(seen, null);
      const before = structuredClone(found);
      expect(namedVehicles({ ...seen, ...found }, consist)).toEqual(findVehicles(seen, consist));
      expect(found).toEqual(before);
    }
  });

  test("made for the other end of the train is laid the other way round", () => {
    const train = buildTrain(seeded(31), 60);
    const consist = consistOf(train);
    expect(ids([...train].reverse(), consist)).toEqual([...consist.vehicles].reverse().map((vehicle) => vehicle.id));
  });

  test("of a train that set cars out names the rest where they can be told apart, and nothing wrongly", () => {
    let named = 0;
    let wrong = 0;
    let vehicles = 0;
    for (let seed = 40; seed < 70; seed++) {
      const train = buildTrain(seeded(seed), 60);
      const consist = consistOf(train);
      const left = train.map((_, k) => k).filter((k) => k < 20 || k >= 24);
      ids(
        left.map((k) => train[k]!),
        consist,
      ).forEach((id, at) => {
        vehicles++;
        if (id !== null) named++;
        if (id !== null && id !== consist.vehicles[left[at]!]!.id) wrong++;
      });
    }
    expect(wrong).toBe(0);
    expect(named / vehicles).toBeGreaterThan(0.6);
  });

  test("of a train that picked cars up leaves the new ones without a name", () => {
    const train = buildTrain(seeded(71), 60);
    const consist = consistOf(train);
    const flat: Built = { kind: "car", trucks: [2, 2], inside: [70, 722, 70], overhangInches: 130 };
    const more = Array.from({ length: 8 }, () => flat);
    const found = ids([...train.slice(0, 30), ...more, ...train.slice(30)], consist);
    expect(found.slice(0, 5)).toEqual(consist.vehicles.slice(0, 5).map((vehicle) => vehicle.id));
    expect(found.slice(-5)).toEqual(consist.vehicles.slice(-5).map((vehicle) => vehicle.id));
    expect(found.slice(30, 38).every((id) => id === null)).toBe(true);
  });

  test("corrects bounds that the spacings got wrong when its axles add up", () => {
    const train = overSite(buildTrain(seeded(73), 40), site, seeded(1));
    const consist = consistOf(buildTrain(seeded(73), 40));
    // Spacings of two cars made unreadable.
    train.gapInches.fill(200, 60, 68);
    const { vehicles } = findVehicles(train, consist);
    expect(vehicles.map((vehicle) => vehicle.firstRow)).toEqual(train.bounds.map((bound) => bound.firstRow));
  });

  test("of another train names nothing", () => {
    const named = ids(buildTrain(seeded(74), 90), consistOf(buildTrain(seeded(75), 40))).filter((id) => id !== null);
    expect(named.length).toBeLessThan(5);
  });
});

describe("tags", () => {
  test("name their vehicle without a consist", () => {
    const train = overSite(buildTrain(seeded(80), 30), site, seeded(1));
    const { vehicles } = findVehicles({ ...train, tags: new Map([[train.bounds[7]!.firstRow + 1, "QX 7"]]) }, null);
    expect(vehicles[7]!.id).toBe("QX 7");
    expect(vehicles.filter((vehicle) => vehicle.id !== null)).toHaveLength(1);
  });

  test("show where look-alike cars were set out", () => {
    const [engine, ...rest] = buildTrain(seeded(81), 30);
    const same = Array.from({ length: 40 }, () => rest.find((vehicle) => vehicle.trucks.length === 2 && vehicle.kind === "car")!);
    const consist = consistOf([engine!, ...same]);
    const left = [engine!, ...same.slice(0, 10), ...same.slice(14)];
    const without = ids(left, consist);
    const { bounds } = overSite(left, site, seeded(3));
    const tags = new Map(
      bounds.flatMap((bound, k) => (k === 0 ? [] : [[bound.firstRow, consist.vehicles[k <= 10 ? k : k + 4]!.id] as [number, string]])),
    );
    expect(without.slice(1).filter((id) => id !== null).length).toBeLessThan(20);
    expect(ids(left, consist, tags).slice(1)).toEqual([...tags.values()]);
  });
});
