import { describe, expect, it } from "vitest";
import { Biases } from "../../src/bearing/biases.ts";
import { level } from "../../src/bearing/level.ts";
import { PackedReadings } from "../../src/journey/packed-readings.ts";
import type { Pass } from "../../src/pass/pass.ts";
import { passOf } from "../bearing/passes.ts";

const AXLES = 212;

/** A train with locomotives, wheels, under-reads, holes and a hot bearing. */
function ordinary(): Pass {
  const pass = passOf({ axles: AXLES, locomotives: 2, seed: 7 });
  pass.bearingRiseF[0][40] = 311.27;
  pass.bearingRiseF[1][41] = -12.34;
  pass.bearingRiseF[0][3] = Number.NaN;
  pass.bearingRiseF[1][99] = Number.NaN;
  pass.wheelRiseF![0][12] = Number.NaN;
  pass.ms[0] = 0;
  pass.ms[5] = 812.25;
  pass.ms[50] = Number.NaN;
  pass.ms[AXLES - 1] = 5 * 3_600_000;
  pass.vehicleOfAxle.fill(-1, AXLES - 4);
  pass.vehicles.pop();
  return pass;
}

function packed(pass: Pass): PackedReadings {
  const readings = PackedReadings.of(pass, level(pass, new Biases()));
  if (readings === null) throw new Error("it was not packed");
  return readings;
}

describe("packed readings", () => {
  it("tell every reading, time and vehicle bit for bit", () => {
    const pass = ordinary();
    const { excessF } = level(pass, new Biases());
    const readings = packed(pass);
    const rows = Array.from({ length: AXLES }, (_, row) => row);
    expect(rows.map((row) => readings.ms(row))).toEqual([...pass.ms]);
    expect(rows.map((row) => readings.vehicle(row))).toEqual([...pass.vehicleOfAxle]);
    for (const rail of [0, 1] as const) {
      expect(rows.map((row) => readings.riseF(rail, row))).toEqual([...pass.bearingRiseF[rail]]);
      expect(rows.map((row) => readings.wheelRiseF(rail, row))).toEqual([...pass.wheelRiseF![rail]]);
      expect(rows.map((row) => readings.excessF(rail, row))).toEqual([...excessF[rail]]);
    }
  });

  it("tell the excess that the levels had, whatever made it", () => {
    const pass = ordinary();
    const levels = level(pass, new Biases());
    levels.excessF[1][77] = 3.25;
    levels.excessF[0][78] = Number.NaN;
    const readings = PackedReadings.of(pass, levels)!;
    expect([readings.excessF(1, 77), readings.excessF(0, 78), readings.excessF(1, 76)]).toEqual([3.25, Number.NaN, levels.excessF[1][76]]);
  });

  it("have no wheels where the site sends none", () => {
    const pass = { ...ordinary(), wheelRiseF: null };
    expect(packed(pass).wheelRiseF(0, 12)).toBeNaN();
    expect(packed(pass).excessF(0, 5)).toBe(level(pass, new Biases()).excessF[0][5]);
  });

  it.each<[string, (pass: Pass) => void]>([
    ["a reading beside the grid", (pass) => (pass.bearingRiseF[0][9] = 31.4159)],
    ["a reading beyond what 16 bits hold", (pass) => (pass.bearingRiseF[1][9] = 327.68)],
    ["a time beside the grid", (pass) => (pass.ms[9] = 1234.5678)],
    ["a time before the pass began", (pass) => (pass.ms[9] = -1)],
    ["a time of more than six hours", (pass) => (pass.ms[9] = 21_474_837)],
    ["rows that say another vehicle than the vehicles do", (pass) => (pass.vehicleOfAxle[20] = 0)],
    ["a vehicle within another", (pass) => pass.vehicles.push({ ...pass.vehicles[0]! })],
  ])("are refused for %s: the columns stay", (_, spoil) => {
    const pass = ordinary();
    const levels = level(pass, new Biases());
    expect(PackedReadings.of(pass, levels)).not.toBeNull();
    spoil(pass);
    expect(PackedReadings.of(pass, levels)).toBeNull();
  });
});
