import { levenbergMarquardt } from "ml-levenberg-marquardt";
import { linearRegression, rSquared } from "simple-statistics";
import { describe, expect, test } from "vitest";
import { type FirstOrder, fitFirstOrder } from "../../src/bearing/first-order.ts";
import { lineThroughOrigin, straightLine } from "../../src/bearing/trend.ts";

/** Relative agreement with a certified value to so many significant digits. */
function agree(value: number, certified: number, digits: number): void {
  expect(Math.abs(value - certified) / Math.abs(certified)).toBeLessThan(10 ** -digits);
}

// NIST StRD, linear least squares, data set Norris, certified values [P], itl.nist.gov/div898/strd/lls/data/Norris.shtml
const norrisY = [
  0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0,
  888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
];
const norrisX = [
  0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8,
  887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
];

describe("a straight line has the certified values of NIST StRD", () => {
  test("Norris [P]: slope, intercept, their standard deviations, residual SD, R², sums of squares, F", () => {
    const line = straightLine(norrisX, norrisY)!;
    agree(line.intercept, -0.262323073774029, 11);
    agree(line.slope, 1.00211681802045, 13);
    agree(line.interceptSd, 0.232818234301152, 11);
    agree(line.slopeSd, 0.429796848199937e-3, 11);
    agree(line.residualSd, 0.884796396144373, 11);
    agree(line.r2, 0.999993745883712, 14);
    agree(line.regressionSumOfSquares, 4255954.13232369, 12);
    agree(line.residualSumOfSquares, 26.6173985294224, 11);
    agree(line.f, 5436385.54079785, 11);
    // Not NIST's: the test of the GNU Scientific Library, from Octave [S].
    agree(line.covariance, -7.7432753636957e-5, 10);
  });

  test("Norris: a general-purpose library (simple-statistics) says the same", () => {
    const line = straightLine(norrisX, norrisY)!;
    const pairs = norrisX.map((x, i) => [x, norrisY[i]!]);
    const other = linearRegression(pairs);
    agree(line.slope, other.m, 10);
    agree(line.intercept, other.b, 7);
    agree(
      line.r2,
      rSquared(pairs, (x) => other.m * x + other.b),
      12,
    );
  });

  test("NoInt1 [P]: through the origin, x 60..70, y 130..140", () => {
    const x = Array.from({ length: 11 }, (_, i) => 60 + i);
    const line = lineThroughOrigin(
      x,
      x.map((value) => value + 70),
    )!;
    agree(line.slope, 2.07438016528926, 13);
    agree(line.slopeSd, 0.165289256198347e-1, 12);
    agree(line.residualSd, 3.56753034006338, 12);
    agree(line.r2, 0.999365492298663, 13);
    agree(line.residualSumOfSquares, 127.272727272727, 12);
  });

  test("NoInt2 (sums of squares [S]; data, slope and SDs from memory, re-computed exactly): three points through the origin", () => {
    const line = lineThroughOrigin([4, 5, 6], [3, 4, 4])!;
    agree(line.slope, 0.727272727272727, 13);
    agree(line.slopeSd, 0.420827318078432e-1, 12);
    agree(line.residualSd, 0.369274472937998, 12);
    agree(line.r2, 0.993348115299335, 13);
    agree(line.residualSumOfSquares, 0.272727272727273, 12);
  });
});

// The certified starts are pairs; ours needs only the rate of each (the best plateau for a rate is linear).
// NIST StRD, nonlinear, y = b1 (1 - exp(-b2 x)): the first-order response itself. Certified values [P].
const misra1a = {
  x: [77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0],
  y: [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.4, 75.47, 81.78],
};
const boxBod = { x: [1, 2, 3, 5, 7, 10], y: [109, 149, 149, 191, 213, 224] };

describe("the first-order response has the certified values of NIST StRD from both starts", () => {
  test.each([
    [500, 0.0001],
    [250, 0.0005],
  ])("Misra1a [P] from (%d, %d)", (_plateau, rate) => {
    const fit = fitFirstOrder(misra1a.x, misra1a.y, rate) as FirstOrder;
    agree(fit.plateau, 2.3894212918e2, 9);
    agree(fit.rate, 5.5015643181e-4, 9);
    agree(fit.plateauSd, 2.7070075241, 8);
    // One public test file carries another value here; this is the certified one.
    agree(fit.rateSd, 7.2668688436e-6, 8);
    agree(fit.residualSd, 1.018787633e-1, 9);
    agree(fit.residualSumOfSquares, 1.2455138894e-1, 9);
  });

  test.each([
    [1, 1],
    [100, 0.75],
  ])("BoxBOD [P] from (%d, %d)", (_plateau, rate) => {
    const fit = fitFirstOrder(boxBod.x, boxBod.y, rate) as FirstOrder;
    agree(fit.plateau, 2.1380940889e2, 9);
    agree(fit.rate, 5.4723748542e-1, 9);
    agree(fit.plateauSd, 1.2354515176e1, 8);
    agree(fit.rateSd, 1.0455993237e-1, 8);
    agree(fit.residualSd, 1.7088072423e1, 9);
    agree(fit.residualSumOfSquares, 1.1680088766e3, 9);
  });

  test("a general-purpose library (ml-levenberg-marquardt) says the same of both", () => {
    const response =
      ([b1, b2]: number[]) =>
      (x: number) =>
        b1! * (1 - Math.exp(-b2! * x));
    for (const [data, start] of [
      [misra1a, [250, 0.0005]],
      [boxBod, [100, 0.75]],
    ] as const) {
      const ours = fitFirstOrder(data.x, data.y, start[1])!;
      const other = levenbergMarquardt(data, response, {
        initialValues: [...start],
        damping: 1e-3,
        gradientDifference: start.map((value) => value * 1e-6),
        centralDifference: true,
        maxIterations: 500,
        errorTolerance: 0,
      });
      agree(ours.plateau, other.parameterValues[0]!, 4);
      agree(ours.rate, other.parameterValues[1]!, 4);
    }
  });
});
