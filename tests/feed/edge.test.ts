import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { ambientF, edgeOf, gapColumn, gapInches, onGrid, riseColumn, riseF, speedColumn, speedMph } from "../../src/feed/edge.ts";
import type { Units } from "../../src/line/railroad.ts";

const FEET_F: Units = { temperature: "F", reading: "above-ambient", gap: "in", speed: "mph" };

function edge(units: Partial<Units>) {
  return edgeOf({ units: { ...FEET_F, ...units } });
}

const celsius = edge({ temperature: "C" });
const absoluteC = edge({ temperature: "C", reading: "absolute" });
const absoluteF = edge({ reading: "absolute" });

describe("check values of conversions", () => {
  // Arithmetic on published limits [D]: a temperature above ambient is a difference and converts without the 32.
  it.each([
    [94.444, 170],
    [111.111, 200],
    [63.889, 115],
    [52.778, 95],
    [47.222, 85],
  ])("%d °C above ambient is %d °F above ambient", (c, f) => {
    expect(riseF(celsius, c, Number.NaN)).toBe(f);
  });

  // Arithmetic [D]: an absolute temperature converts with the 32.
  it.each([
    [148.889, 300],
    [232.222, 450],
  ])("%d °C is %d °F", (c, f) => {
    expect(onGrid(riseF(absoluteC, c, 0))).toBe(f);
    expect(ambientF(celsius, c)).toBe(f);
  });

  // The international inch and mile are exact by definition (from memory; common knowledge).
  it("1,778 mm, 177.8 cm, 70 in and 5.8333 ft are one distance; 75.64 km/h is 47 mph", () => {
    expect(gapInches(edge({ gap: "mm" }), 1778)).toBe(70);
    expect(gapInches(edge({ gap: "cm" }), 177.8)).toBe(70);
    expect(gapInches(edge({ gap: "in" }), 70)).toBe(70);
    expect(gapInches(edge({ gap: "ft" }), 5.83333)).toBe(70);
    expect(speedMph(edge({ speed: "km/h" }), 75.639168)).toBe(47);
  });
});

describe("a reading at the edge", () => {
  it("that was not taken stays not taken", () => {
    for (const any of [celsius, absoluteC, absoluteF]) expect(riseF(any, null, 50)).toBeNaN();
    expect(gapInches(celsius, null)).toBeNaN();
    expect(speedMph(celsius, null)).toBeNaN();
    expect(ambientF(celsius, null)).toBeNaN();
    expect(ambientF(celsius, undefined)).toBeNaN();
  });

  it("that is absolute means nothing without the pass's ambient", () => {
    expect(riseF(absoluteF, 120, Number.NaN)).toBeNaN();
    expect(riseF(edge({}), 120, Number.NaN)).toBe(120);
  });

  it("ends as the same float32 in whatever unit it was sent", () => {
    const tenths = (low: number, high: number) => fc.integer({ min: low * 10, max: high * 10 }).map((x) => x / 10);
    fc.assert(
      fc.property(tenths(-60, 900), tenths(-60, 130), (rise, ambient) => {
        const pass = ambientF(edge({}), ambient);
        const ways = [
          riseOf(edge({}), rise, pass),
          riseOf(absoluteF, rise + ambient, pass),
          riseOf(celsius, rise / 1.8, pass),
          riseOf(absoluteC, (rise + ambient - 32) / 1.8, ambientF(absoluteC, (ambient - 32) / 1.8)),
          // As sent with four decimals.
          riseOf(celsius, Number((rise / 1.8).toFixed(4)), pass),
        ];
        expect(ways).toEqual(Array(ways.length).fill(Math.fround(rise)));
      }),
      { numRuns: 5000, seed: 17 },
    );
  });

  it("keeps gaps and speeds the same in whatever unit they were sent", () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 12_000 }), fc.integer({ min: 0, max: 1500 }), (gapTenths, speedTenths) => {
        const inches = gapTenths / 10;
        expect(gapInches(edge({ gap: "mm" }), inches * 25.4)).toBe(inches);
        expect(gapInches(edge({ gap: "cm" }), inches * 2.54)).toBe(inches);
        expect(gapInches(edge({ gap: "ft" }), inches / 12)).toBe(inches);
        expect(speedMph(edge({ speed: "km/h" }), (speedTenths / 10) * 1.609344)).toBe(speedTenths / 10);
      }),
      { numRuns: 2000, seed: 19 },
    );
  });

  it("fills a column as it would one by one, and touches nothing beside it", () => {
    const reading = fc.oneof(fc.double({ min: -150, max: 2000, noNaN: true }), fc.constant(null));
    fc.assert(
      fc.property(fc.array(reading, { maxLength: 64 }), fc.constantFrom(celsius, absoluteC, absoluteF), fc.nat(3), (source, any, at) => {
        const target = new Float32Array(at + source.length + 1).fill(-7);
        const given = Float64Array.from(source, (x) => x ?? Number.NaN);
        riseColumn(any, given, source.length, 41, target, at);
        expect([...target.subarray(at, at + source.length)]).toEqual(source.map((x) => Math.fround(riseF(any, x, 41))));
        expect([target[at + source.length], ...target.subarray(0, at)]).toEqual(Array(at + 1).fill(-7));
        gapColumn(any, given, source.length, target, at);
        expect([...target.subarray(at, at + source.length)]).toEqual(source.map((x) => Math.fround(gapInches(any, x))));
        speedColumn(any, given, source.length, target, at);
        expect([...target.subarray(at, at + source.length)]).toEqual(source.map((x) => Math.fround(speedMph(any, x))));
      }),
      { numRuns: 500, seed: 23 },
    );
  });

  it("lies on the grid of 0.01 and is never -0", () => {
    for (const x of [-0.001, -0.004, 0, -0]) expect(Object.is(onGrid(x), 0)).toBe(true);
    expect(onGrid(1.006)).toBe(1.01);
  });
});

function riseOf(any: ReturnType<typeof edgeOf>, reading: number, passAmbientF: number): number {
  return Math.fround(riseF(any, reading, passAmbientF));
}
