import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { fitFirstOrder, settling } from "../../src/bearing/first-order.ts";
import { bellAt, normalCdf } from "../../src/bearing/normal.ts";
import { crossingOfLine, lineThroughOrigin, straightLine, theilSen } from "../../src/bearing/trend.ts";
import { readingOf } from "./curves.ts";

const slopes = fc.double({ min: -8, max: 12, noNaN: true });
const starts = fc.double({ min: -50, max: 150, noNaN: true });

describe("straight lines", () => {
  test("readings on a line give that line, by both methods", () => {
    fc.assert(
      fc.property(slopes, starts, (slope, start) => {
        const miles = [0, 11, 25, 38, 61];
        const riseF = miles.map((mile) => start + slope * mile);
        for (const line of [straightLine(miles, riseF)!, theilSen(miles, riseF)!]) {
          expect(line.slope).toBeCloseTo(slope, 6);
          expect(line.intercept).toBeCloseTo(start, 5);
        }
      }),
      { seed: 9 },
    );
  });

  test("one reading gone wild bends least squares and not Theil-Sen", () => {
    const miles = [0, 10, 20, 30, 40];
    const riseF = [30, 40, 50, -20, 70];
    expect(theilSen(miles, riseF)!.slope).toBeCloseTo(1, 9);
    expect(straightLine(miles, riseF)!.slope).toBeLessThan(0.5);
  });

  test("readings all at one place give no line", () => {
    expect(straightLine([5, 5], [1, 2])).toBeNull();
    expect(theilSen([5], [1])).toBeNull();
    expect(lineThroughOrigin([0, 0], [1, 2])).toBeNull();
  });

  test("a falling line crosses no limit ahead", () => {
    expect(crossingOfLine({ slope: -1, intercept: 50 }, 170, 10)).toBeNull();
    expect(crossingOfLine({ slope: 2, intercept: 50 }, 170, 10)).toBe(60);
  });
});

describe("a rise that settles", () => {
  test("readings on a first-order response give its plateau and rate", () => {
    fc.assert(
      fc.property(fc.double({ min: 20, max: 200, noNaN: true }), fc.double({ min: 0.02, max: 0.15, noNaN: true }), (plateau, rate) => {
        const miles = [5, 12, 20, 31, 45, 60];
        const fit = fitFirstOrder(
          miles,
          miles.map((mile) => plateau * (1 - Math.exp(-rate * mile))),
          0.05,
        )!;
        expect(fit.plateau).toBeCloseTo(plateau, 4);
        expect(fit.rate).toBeCloseTo(rate, 6);
      }),
      { seed: 10 },
    );
  });

  test("where it settles is told for a bearing that slows down, not for one that goes on", () => {
    const settled = [0, 32, 51, 62, 66, 68.5].map((excessF, i) => readingOf(i * 14, 45, excessF, 30, 6));
    const found = settling(settled)!;
    expect(found.excessF).toBeCloseTo(71, -1);
    const goingOn = [0, 20, 40, 61, 80, 101].map((excessF, i) => readingOf(i * 14, 45, excessF, 30, 6));
    expect(settling(goingOn)).toBeNull();
    expect(settling(settled.slice(0, 3))).toBeNull();
  });
});

describe("the normal distribution", () => {
  test("its density from the table is exp(-z²/2) to 1e-5", () => {
    for (let z = -7.99; z < 8; z += 0.0137) expect(Math.abs(bellAt(z) - Math.exp(-0.5 * z * z))).toBeLessThan(1e-5);
    expect(bellAt(9)).toBe(0);
  });

  test("its distribution function agrees with quadrature of the density to 1e-7", () => {
    const step = 1e-3;
    let area = 0.5;
    for (let i = 1; i <= 4000; i++) {
      const middle = (i - 0.5) * step;
      area += (Math.exp(-0.5 * middle * middle) / Math.sqrt(2 * Math.PI)) * step;
      if (i % 500 === 0) {
        expect(Math.abs(normalCdf(i * step) - area)).toBeLessThan(2e-7);
        expect(normalCdf(-i * step)).toBeCloseTo(1 - area, 6);
      }
    }
  });
});
