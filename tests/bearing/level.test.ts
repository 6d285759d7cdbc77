import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { Biases } from "../../src/bearing/biases.ts";
import { countsLess, isStillLevel, level } from "../../src/bearing/level.ts";
import { median, medianAbsoluteDeviation } from "../../src/bearing/robust.ts";
import { passOf } from "./passes.ts";

const none = new Biases();
const trains = fc.record({ axles: fc.integer({ min: 60, max: 400 }), locomotives: fc.nat(3), seed: fc.nat(10_000) });

function biasesOf(left: number, right: number): Biases {
  const biases = new Biases();
  for (const [rail, biasF] of [
    ["left", left],
    ["right", right],
  ] as const) {
    biases.add({
      type: "calibration",
      id: rail,
      version: 1,
      time: "",
      site: "alder-14",
      track: "1",
      rail,
      biasF,
      sdF: 1,
      trains: 9,
      effectiveFromMs: -1,
    });
  }
  return biases;
}

describe("readings are levelled against their own kind on the same side", () => {
  test("half of a side's cars are over it, half under; the spread is their robust standard deviation", () => {
    fc.assert(
      fc.property(trains, (train) => {
        const pass = passOf({ ...train, medianF: 30 });
        const levels = level(pass, none);
        const cars = Array.from(levels.excessF[0]).slice(train.locomotives * 6);
        expect(Math.abs(median(cars))).toBeLessThan(1e-3);
        expect(levels.spreadF[0]).toBeCloseTo(1.4826 * medianAbsoluteDeviation(cars), 0);
      }),
      { seed: 3, numRuns: 60 },
    );
  });

  test("what all of a side share (ambient, load, sun, bias of the scanner) changes no car bearing's excess", () => {
    fc.assert(
      fc.property(trains, fc.integer({ min: -20, max: 40 }), (train, shift) => {
        const plain = level(passOf(train), none);
        const shifted = level(passOf({ ...train, biasF: [shift, 0] }), none);
        for (let row = train.locomotives * 6; row < train.axles; row++) {
          expect(Math.abs(plain.excessF[0][row]! - shifted.excessF[0][row]!)).toBeLessThan(0.02);
        }
        expect(shifted.medianF[0] - plain.medianF[0]).toBeCloseTo(shift, 1);
      }),
      { seed: 4, numRuns: 40 },
    );
  });

  test("a learned bias is taken out of the side's median, and the raw readings stay as they were", () => {
    const pass = passOf({ axles: 200, biasF: [12, -5] });
    const before = pass.bearingRiseF[0].slice();
    const levels = level(pass, biasesOf(12, -5));
    expect(levels.medianF[0]).toBeCloseTo(28, -0.5);
    expect(levels.medianF[1]).toBeCloseTo(28, -0.5);
    expect(levels.biasF).toEqual([12, -5]);
    expect(pass.bearingRiseF[0]).toEqual(before);
  });

  test("locomotives are measured against locomotives", () => {
    const levels = level(passOf({ axles: 218, locomotives: 3 }), none);
    expect(Math.abs(median(levels.excessF[0].slice(0, 18)))).toBeLessThan(3);
    expect(levels.medianF[0]).toBeLessThan(31);
  });

  test("a light engine without cars is its own side", () => {
    const levels = level(passOf({ axles: 12, locomotives: 2 }), none);
    expect(levels.medianF[0]).toBeGreaterThan(35);
    expect(Number.isFinite(levels.excessF[0][5])).toBe(true);
  });

  test("in a train of two cars one hot bearing does not make itself ordinary", () => {
    const pass = passOf({ axles: 8, spreadF: 3 });
    pass.bearingRiseF[0][2] = 150;
    const levels = level(pass, none);
    expect(levels.excessF[0][2]).toBeGreaterThan(100);
    expect(levels.spreadF[0]).toBeGreaterThan(3);
  });

  test("a reading that was not taken stays not taken", () => {
    const pass = passOf({ axles: 100 });
    pass.bearingRiseF[1][7] = Number.NaN;
    const levels = level(pass, none);
    expect(levels.excessF[1][7]).toBeNaN();
    expect(Number.isFinite(levels.excessF[0][7])).toBe(true);
  });

  test("the same pass gives the same bytes, whatever was levelled before", () => {
    const pass = passOf({ axles: 150, locomotives: 2, seed: 8 });
    const first = level(pass, none);
    level(passOf({ axles: 400, seed: 9 }), none);
    expect(level(pass, none)).toEqual(first);
  });
});

describe("a side that cannot be right is doubted in words", () => {
  test("one side far hotter than the other beyond what the biases allow: said on both, but its bearings count", () => {
    const levels = level(passOf({ axles: 200, biasF: [40, 0] }), none);
    expect(levels.doubts[0]).toEqual(["side-hot"]);
    expect(levels.doubts[1]).toEqual(["side-cold"]);
    expect(countsLess(levels.doubts[0])).toBe(false);
  });

  test("a scanner that sees next to nothing counts less", () => {
    const levels = level(passOf({ axles: 200, biasF: [0, -26] }), none);
    expect(levels.doubts[1]).toContain("scanner-low");
    expect(countsLess(levels.doubts[1])).toBe(true);
  });

  test("a scanner that shows none of the heat is told from one that is only biased: its readings are all but alike", () => {
    const blind = passOf({ axles: 200 });
    const sees = 0.06;
    const seen = passOf({ axles: 200, medianF: 0, spreadF: 3.5, seed: 2 });
    blind.bearingRiseF[1].forEach((riseF, row) => {
      blind.bearingRiseF[1][row] = sees * riseF + seen.bearingRiseF[1][row]!;
    });
    expect(level(blind, none).doubts[1]).toContain("scanner-flat");
    expect(level(passOf({ axles: 200, biasF: [0, -26] }), none).doubts[1]).not.toContain("scanner-flat");
  });

  test("a rail of missing readings, and a rail the site doubts itself", () => {
    const pass = passOf({ axles: 100 });
    pass.bearingRiseF[0].fill(Number.NaN, 0, 30);
    pass.bearingRiseF[1].fill(Number.NaN);
    pass.flags.push("scanner-left");
    const levels = level(pass, none);
    expect(levels.doubts[0]).toEqual(["readings-missing", "scanner-flagged"]);
    expect(levels.doubts[1]).toEqual(["no-readings"]);
    expect(levels.medianF[1]).toBeNaN();
  });

  test("a pass without a single axle is levelled to nothing", () => {
    const levels = level(passOf({ axles: 0 }), none);
    expect(levels.medianF[0]).toBeNaN();
    expect(levels.doubts).toEqual([[], []]);
  });

  test("the share of under-reads is known for each rail", () => {
    const pass = passOf({ axles: 200, spreadF: 4 });
    for (let row = 0; row < 20; row++) pass.bearingRiseF[0][row * 7] = -20;
    const levels = level(pass, none);
    expect(levels.lowShare![0]).toBeCloseTo(0.1, 2);
    expect(levels.lowShare![1]).toBeLessThan(0.01);
  });
});

test("levels hold as long as both biases of the pass are the ones they were made with", () => {
  const pass = passOf({ axles: 90, locomotives: 2 });
  const levels = level(pass, biasesOf(3, -2));
  expect(isStillLevel(pass, levels, biasesOf(3, -2))).toBe(true);
  expect(level(pass, biasesOf(3, -2))).toEqual(levels);
  for (const other of [biasesOf(3, -1.99), biasesOf(2.99, -2), none]) {
    expect(isStillLevel(pass, levels, other)).toBe(false);
    expect(level(pass, other)).not.toEqual(levels);
  }
});
