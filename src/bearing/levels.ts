import type { ByRail } from "../pass/pass.ts";

/**
 * The readings of one pass made comparable: scanner bias out, then against the bearings of its own kind
 * (cars, locomotives) on the same rail of the same pass. All in °F.
 */
export interface Levels {
  /** Rise over the same side of the train, by row; NaN where there is no reading. */
  excessF: ByRail<Float32Array>;
  /** Median rise of the cars' bearings on that rail after the bias was taken out. */
  medianF: ByRail<number>;
  /** Robust standard deviation (1.4826 MAD) of the cars' bearings on that rail. */
  spreadF: ByRail<number>;
  /** Bias taken out, and its standard deviation; 0 and a wide one while nothing was learned. */
  biasF: ByRail<number>;
  biasSdF: ByRail<number>;
  /** Why this rail's readings count less or not at all: "scanner-low", "side-hot", ... */
  doubts: ByRail<string[]>;
  /** Share of the rail's bearings far below their side: how often this scanner under-reads today. Absent: unknown. */
  lowShare?: ByRail<number>;
}
