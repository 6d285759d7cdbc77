import fc from "fast-check";
import { medianAbsoluteDeviation as otherMad, median as otherMedian } from "simple-statistics";
import { describe, expect, test } from "vitest";
import { median, medianAbsoluteDeviation, medianInPlace, quantile, select } from "../../src/bearing/robust.ts";

const values = fc.array(fc.float({ min: -200, max: 600, noNaN: true }), { minLength: 1, maxLength: 300 });

describe("median and ranks", () => {
  test("the k-th smallest is what sorting gives", () => {
    fc.assert(
      fc.property(values, fc.nat(), (column, seed) => {
        const k = seed % column.length;
        const sorted = Float32Array.from(column).sort();
        expect(select(Float32Array.from(column), column.length, k)).toBe(sorted[k]);
      }),
      { seed: 1 },
    );
  });

  test("the median is what a general-purpose library (simple-statistics) says, and so is the deviation from it", () => {
    fc.assert(
      fc.property(values, (column) => {
        expect(median(column)).toBeCloseTo(otherMedian(column), 6);
        expect(medianAbsoluteDeviation(column)).toBeCloseTo(otherMad(column), 6);
      }),
      { seed: 2 },
    );
  });

  test("selection holds on columns that are sorted, reversed, all equal or of two values", () => {
    for (const make of [(i: number) => i, (i: number) => -i, () => 7, (i: number) => i % 2]) {
      const column = Float32Array.from({ length: 1000 }, (_, i) => make(i));
      const sorted = column.slice().sort();
      for (const k of [0, 1, 499, 500, 998, 999]) expect(select(column.slice(), 1000, k)).toBe(sorted[k]);
    }
  });

  test("a reading that was not taken is no reading", () => {
    expect(median([1, Number.NaN, 3])).toBe(2);
    expect(medianInPlace(new Float32Array(0), 0)).toBeNaN();
    expect(quantile([Number.NaN], 0.5, 7)).toBeNaN();
  });

  test("a rank outside is an error that says so", () => {
    expect(() => select(new Float32Array(3), 3, 3)).toThrow("rank 3 is outside 0..2");
  });
});
