import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { middle } from "../../src/bearing/middle.ts";
import { medianInPlace } from "../../src/bearing/robust.ts";

const grid = fc.integer({ min: -3000, max: 15_000 }).map((x) => x / 100);
const any = fc.oneof({ weight: 9, arbitrary: grid }, { weight: 1, arbitrary: fc.double({ min: -1e6, max: 1e6, noNaN: true }) });

describe("the middle of many readings", () => {
  it("is the very median that sorting gives, wherever the readings lie", () => {
    const many = fc.oneof(
      fc.array(any, { maxLength: 300 }),
      fc.array(grid, { minLength: 31, maxLength: 2000, size: "max" }),
      fc.array(fc.constantFrom(0, 0.01, 5), { maxLength: 80 }),
    );
    fc.assert(
      fc.property(many, fc.constantFrom([-28, 0.5], [-0.125, 0.125], [1e5, 1], [-1e9, 0.01]), (given, [from, step]) => {
        const values = Float32Array.from(given);
        const sorted = values.slice().sort();
        const expected = medianInPlace(sorted, sorted.length);
        // The grid knows no -0.
        expect(middle(values, values.length, from as number, step as number) + 0).toBe(expected + 0);
      }),
      { numRuns: 3000, seed: 5 },
    );
  });
});
