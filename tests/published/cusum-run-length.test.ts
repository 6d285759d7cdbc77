import { describe, expect, it } from "vitest";
import { averageRunLength, normalBelow } from "../../src/site/run-length.ts";
import { USUAL_SITE_RULES } from "../../src/site/site-rules.ts";
import { DECISION_SDS, DRIFT_ALLOWANCE_SHARE, SIDE_SD_F, TRAIN_SD_F } from "../../src/site/watch-numbers.ts";

/**
 * Average run lengths of a cumulative sum of normal values against published tables. All [S]: quoted, with table and paper, in
 * the examples of the R package spc (xcusum.arl); the papers themselves were not read.
 */

/** Two one-sided sums side by side: their rates of false answers add up. */
function twoSided(allowance: number, decision: number, shift: number): number {
  return 1 / (1 / averageRunLength(allowance, decision, shift) + 1 / averageRunLength(allowance, decision, -shift));
}

/** As exactly as the table prints it, in half units of its last digit, or to within the error of the grid. */
function near(value: number, printed: number, share: number): void {
  expect(Math.abs(value - printed) / printed).toBeLessThan(share);
}

describe("average run lengths of a cumulative sum", () => {
  // Lucas and Crosier (1982), Technometrics 24, table 1: two-sided, allowance 0.5, decision 4, without a head start.
  it.each([
    [0, 168],
    [0.25, 74.2],
    [0.5, 26.6],
    [0.75, 13.3],
    [1, 8.38],
    [1.5, 4.75],
    [2, 3.34],
    [2.5, 2.62],
    [3, 2.19],
    [4, 1.71],
    [5, 1.31],
  ])("two-sided, allowance 0.5, decision 4: at a shift of %d standard deviations %d steps", (shift, steps) => {
    near(twoSided(0.5, 4, shift), steps, 0.005);
  });

  // Vance (1986), Journal of Quality Technology 18, table 1 (with the results of Goel and Wu 1971): one-sided, allowance 0, decision 10.
  it.each([
    [-0.25, 2071.51],
    [-0.125, 400.28],
    [0, 124.66],
    [0.125, 59.3],
    [0.25, 36.71],
    [0.5, 20.37],
    [0.75, 14.06],
    [1, 10.75],
  ])("one-sided, allowance 0, decision 10: at a shift of %d standard deviations %d steps", (shift, steps) => {
    near(averageRunLength(0, 10, shift, 300), steps, 0.005);
  });

  // Waldmann (1986), Technometrics 28, tables 3, 1 and 5: one-sided, allowance 0.5, decision 3.
  it.each([
    [-0.5, 1963],
    [0, 117.4],
    [0.5, 17.35],
  ])("one-sided, allowance 0.5, decision 3: at a shift of %d standard deviations %d steps", (shift, steps) => {
    near(averageRunLength(0.5, 3, shift, 300), steps, 0.005);
  });

  // Brook and Evans (1972), Biometrika 59, section 4.3: 117.59 and 3.75 by their own coarser chain.
  it("agrees with the method's own first example as far as its coarser grid went", () => {
    near(averageRunLength(0.5, 3, 0), 117.59, 0.005);
    near(averageRunLength(0.5, 3, 1.5), 3.75, 0.005);
  });

  it("the normal distribution behind it is right at well-known points", () => {
    // Arithmetic [D]: the error function's symmetry; 1.959964 cuts off 2.5 % (any table).
    expect(normalBelow(0)).toBeCloseTo(0.5, 12);
    expect(normalBelow(1.959964)).toBeCloseTo(0.975, 6);
    expect(normalBelow(-4)).toBeCloseTo(3.167124e-5, 9);
  });

  it("the sums over scanners answer wrongly less than once in ten million passes, as is said of them", () => {
    const allowanceF = DRIFT_ALLOWANCE_SHARE * USUAL_SITE_RULES.scanner.driftF;
    expect(averageRunLength(allowanceF / SIDE_SD_F, DECISION_SDS, 0)).toBeGreaterThan(1e7);
    // Both scanners together scatter more, and are held to less: once in a million.
    expect(averageRunLength(allowanceF / TRAIN_SD_F, DECISION_SDS, 0)).toBeGreaterThan(1e6);
  });
});
