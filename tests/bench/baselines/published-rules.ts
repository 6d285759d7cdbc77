import type { Baseline } from "./baseline.ts";
import { fixedLimit, kValue, sameAxleDifference } from "./single-site.ts";
import { leastSquaresOfFour, theilSenOfFour, twoPointLine } from "./trends.ts";

/** Every published rule the engine is measured against, each with its source. */
export const PUBLISHED_RULES: readonly Baseline[] = [
  fixedLimit,
  sameAxleDifference,
  kValue,
  twoPointLine,
  leastSquaresOfFour,
  theilSenOfFour,
];
