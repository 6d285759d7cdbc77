import type { Leg } from "./journey.ts";

/**
 * What was read of one axle on a leg, whether the leg still has its columns or is packed (flow/bare-leg.ts). Whoever asks any
 * leg but the newest asks here. A row that was not seen (-1) and a leg that let go of everything have no readings: NaN.
 */

/** Milliseconds since the pass began. */
export function msOn({ packed, pass }: Leg, row: number): number {
  return (packed == null ? pass.ms[row] : row < 0 ? undefined : packed.ms(row)) ?? Number.NaN;
}

/** °F above ambient. */
export function riseOn({ packed, pass }: Leg, rail: 0 | 1, row: number): number {
  return (packed == null ? pass.bearingRiseF[rail][row] : row < 0 ? undefined : packed.riseF(rail, row)) ?? Number.NaN;
}

/** °F above ambient of the wheel beside it. */
export function wheelRiseOn({ packed, pass }: Leg, rail: 0 | 1, row: number): number {
  return (packed == null ? pass.wheelRiseF?.[rail][row] : row < 0 ? undefined : packed.wheelRiseF(rail, row)) ?? Number.NaN;
}

/** °F over its side. */
export function excessOn({ packed, levels }: Leg, rail: 0 | 1, row: number): number {
  return (packed == null ? levels.excessF[rail][row] : row < 0 ? undefined : packed.excessF(rail, row)) ?? Number.NaN;
}

/** °F over its side of all rows of a rail: for those who go through all of them. Not to be changed. */
export function excessColumn({ packed, levels }: Leg, rail: 0 | 1): Float32Array {
  if (packed == null) return levels.excessF[rail];
  const column = new Float32Array(packed.rows);
  for (let row = 0; row < column.length; row++) column[row] = packed.excessF(rail, row);
  return column;
}
