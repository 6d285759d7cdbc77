import { RESIDUAL_SD_INCHES } from "./spacing-score.ts";

/** Two sites' spacings differ by this share (assumption: each site is off by up to 1 to 2 %). */
const SCALE_SD = 0.015;
/** Beyond it two patterns are not the same train. */
export const MOST_SCALE_DIFFERENCE = 0.05;
/** Weight of the prior "same scale", in squared inches of reference. */
const PRIOR_WEIGHT = (RESIDUAL_SD_INCHES / SCALE_SD) ** 2;

/** Running least-squares estimate of how a site's spacings compare with the roster's. */
export class ScaleEstimate {
  private cross = PRIOR_WEIGHT;
  private square = PRIOR_WEIGHT;
  value = 1;

  reset(): void {
    this.cross = PRIOR_WEIGHT;
    this.square = PRIOR_WEIGHT;
    this.value = 1;
  }

  learn(reference: number, measured: number): void {
    this.cross += reference * measured;
    this.square += reference * reference;
    this.value = this.cross / this.square;
  }

  /** What the uncertainty of the scale adds to the tolerance of a spacing of this length: three standard deviations. */
  slackInches(reference: number): number {
    return (3 * RESIDUAL_SD_INCHES * reference) / Math.sqrt(this.square);
  }
}

/** Scale of two columns of the same length by least squares; NaN pairs do not count. */
export function scaleOf(reference: Float32Array, measured: Float32Array, axles: number): number {
  let cross = PRIOR_WEIGHT;
  let square = PRIOR_WEIGHT;
  for (let i = 1; i < axles; i++) {
    const r = reference[i]!;
    const product = r * measured[i]!;
    if (!Number.isNaN(product)) {
      cross += product;
      square += r * r;
    }
  }
  return cross / square;
}
