import { expect, test } from "vitest";
import { LONG_TRAIN_FEET, MEDIAN_TRAIN_FEET } from "../../src/simulate/assumptions.ts";
import { drawBlueprint, drawTrainKind } from "../../src/simulate/blueprint.ts";
import { stream } from "../../src/simulate/random.ts";
import { buildVehicle, CARS, LOCOMOTIVES } from "../../src/simulate/stock.ts";

test("half of the trains are longer than 5,400 ft, one in ten longer than 9,800 ft (2021 figures, TRADE 3, [P])", () => {
  const random = stream(1, "lengths");
  const feet: number[] = [];
  for (let i = 0; i < 3000; i++) {
    const cars = drawBlueprint(drawTrainKind(random), random).vehicles.filter((item) => item.stock.kind === "car");
    feet.push(cars.reduce((sum, car) => sum + car.stock.lengthInches / 12, 0));
  }
  feet.sort((a, b) => a - b);
  expect(Math.abs((feet[1500] as number) / MEDIAN_TRAIN_FEET - 1)).toBeLessThan(0.05);
  expect(Math.abs((feet[2700] as number) / LONG_TRAIN_FEET - 1)).toBeLessThan(0.07);
});

test("a unit train is of one kind of car behind its locomotives, and never longer than a site can count (2,000 axles)", () => {
  for (let i = 0; i < 300; i++) {
    const blueprint = drawBlueprint("unit", stream(i, "unit"));
    const cars = blueprint.vehicles.filter((item) => item.stock.kind === "car");
    expect(new Set(cars.map((car) => car.stock.name)).size).toBe(1);
    expect(blueprint.vehicles[0]?.stock.kind).toBe("locomotive");
    const axles = blueprint.vehicles.reduce((sum, item) => sum + item.stock.trucks.reduce((a, b) => a + b, 0), 0);
    expect(axles).toBeLessThan(2000);
  }
});

test("every vehicle has one spacing fewer than axles, and is as long as its kind says", () => {
  for (const stock of [...Object.values(CARS), ...Object.values(LOCOMOTIVES)]) {
    const vehicle = buildVehicle(stock, "QX 1", 10, true, stream(2, stock.name));
    expect(vehicle.gapsInches.length).toBe(vehicle.axles - 1);
    expect(vehicle.axles).toBe(stock.trucks.reduce((a, b) => a + b, 0));
    const length = vehicle.gapsInches.reduce((a, b) => a + b, 0) + vehicle.frontInches + vehicle.rearInches;
    expect(Math.abs(length - stock.lengthInches)).toBeLessThan(6);
    for (const gap of vehicle.gapsInches) expect(gap).toBeGreaterThan(60);
  }
});
