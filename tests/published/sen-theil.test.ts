import { expect, test } from "vitest";
import { median } from "../../src/bearing/robust.ts";
import { theilSen } from "../../src/bearing/trend.ts";

// Sen (1968), worked example; data and corrected interval [S] as in the test suite of the R package "deming".
const t = [1, 2, 3, 4, 10, 12, 18];
const y = [9, 15, 19, 20, 45, 55, 78];
/** Standard normal quantile of a 93 % interval. */
const Z_93 = 1.811911;

test("Sen's example [S]: 21 slopes, the 11th is 4, and the 93 % interval runs from the 4th to the 18th", () => {
  const line = theilSen(t, y, Z_93)!;
  expect(line.pairs).toBe(21);
  expect(line.slope).toBe(4);
  expect(line.low).toBeCloseTo(26 / 7, 12);
  expect(line.high).toBeCloseTo(35 / 8, 12);
});

test("Sen's example [D]: the two intercept conventions differ, ours is the median of the residuals", () => {
  const line = theilSen(t, y)!;
  expect(line.intercept).toBe(6);
  expect(median(y) - line.slope * median(t)).toBe(4);
});
