import { describe, expect, it } from "vitest";
import { PackedVehicles } from "../../src/pass/packed-vehicles.ts";
import { numberVehicles, type Vehicle } from "../../src/pass/vehicle.ts";

function vehicles(): Vehicle[] {
  const car = { kind: "car", ordinal: 0, ordinalOfKind: 0, axles: 4, trucks: [2, 2], id: null, confidence: 0.9876 } as const;
  const found: Vehicle[] = [
    { ...car, kind: "locomotive", firstRow: 0, axles: 6, trucks: [3, 3], id: "QX 9001" },
    { ...car, firstRow: 6, trucks: [2, 2] },
    { ...car, firstRow: 10, axles: 3, trucks: [2, 1], odd: "axle-missed" },
    { ...car, firstRow: 13, axles: 9, trucks: [2, 2, 2, 3], odd: "axle-doubled", confidence: 0.4 },
  ];
  numberVehicles(found);
  return found;
}

describe("packed vehicles", () => {
  it("come back as they were", () => {
    expect(new PackedVehicles(vehicles()).unpacked()).toEqual(vehicles());
    expect(new PackedVehicles([]).unpacked()).toEqual([]);
  });

  it("come back as they were where a chance has more decimals than most", () => {
    const found = vehicles();
    found[2]!.confidence = 2 / 3;
    expect(new PackedVehicles(found).unpacked()).toEqual(found);
  });

  it("come back as they were beside those of another pass, whatever differs", () => {
    const like = new PackedVehicles(vehicles());
    const renamed = vehicles();
    renamed[1]!.id = "QX 77";
    const cut = vehicles().slice(0, 3);
    const surer = vehicles();
    surer[3]!.confidence = 0.95;
    for (const found of [vehicles(), renamed, cut, surer]) expect(new PackedVehicles(found, like).unpacked()).toEqual(found);
  });
});
