import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { SCREENED_MAX, screen } from "../../src/bearing/screen.ts";
import { journeyOf, legOf, passOf } from "./passes.ts";

const out = new Int32Array(SCREENED_MAX);

describe("the screen spares work and misses nothing that departs", () => {
  test("of ordinary bearings fewer than one in 200 passes", () => {
    let passed = 0;
    let bearings = 0;
    for (let seed = 1; seed <= 40; seed++) {
      const legs = [0, 15].map((miles) => legOf(passOf({ axles: 400, seed: seed * 2 + miles }), miles));
      passed += screen(journeyOf(legs), 1, out);
      bearings += 800;
    }
    expect(passed / bearings).toBeLessThan(0.005);
  });

  test("a bearing four spreads over its side passes, on either rail, in any row", () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 199 }), fc.constantFrom<0 | 1>(0, 1), fc.nat(1000), (row, rail, seed) => {
        const pass = passOf({ axles: 200, seed });
        pass.bearingRiseF[rail][row] = 28 + 4.5 * 6 + 4;
        const count = screen(journeyOf([legOf(pass, 0)]), 0, out);
        expect(Array.from(out.slice(0, count))).toContain(row * 2 + rail);
      }),
      { seed: 5, numRuns: 60 },
    );
  });

  test("a jump from the leg before passes though the reading alone would not", () => {
    const before = passOf({ axles: 200, spreadF: 5, seed: 3 });
    const now = passOf({ axles: 200, spreadF: 5, seed: 4 });
    before.bearingRiseF[0][50] = 20;
    before.bearingRiseF[1][50] = 41;
    now.bearingRiseF[0][50] = 46;
    now.bearingRiseF[1][50] = 41;
    const count = screen(journeyOf([legOf(before, 0), legOf(now, 12)]), 1, out);
    expect(Array.from(out.slice(0, count))).toContain(100);
    const alone = screen(journeyOf([legOf(now, 0)]), 0, out);
    expect(Array.from(out.slice(0, alone))).not.toContain(100);
  });

  test("a raw rise near the limit passes whatever the rest of the train does", () => {
    const pass = passOf({ axles: 100, medianF: 88, spreadF: 12 });
    pass.bearingRiseF[0][7] = 120;
    const count = screen(journeyOf([legOf(pass, 0)]), 0, out);
    expect(Array.from(out.slice(0, count))).toContain(14);
  });

  test("a reading that was not taken never passes", () => {
    const pass = passOf({ axles: 100 });
    pass.bearingRiseF[0].fill(Number.NaN);
    pass.bearingRiseF[1].fill(Number.NaN);
    expect(screen(journeyOf([legOf(pass, 0)]), 0, out)).toBe(0);
  });
});
