import { medianInPlace } from "./robust.ts";

/** Fewer values are sorted through at once. */
const FEWEST = 32;
const BINS = 256;

const counts = new Int32Array(BINS);
const binOf = new Uint8Array(1 << 11);
const near = new Float32Array(1 << 11);

/**
 * Median of `values[0..count)`, the same as `medianInPlace`; the mean of the middle two when the count is even, NaN when
 * there are none. For values that mostly lie between `from` and BINS times `step` above it: they are counted into bins
 * first, so that only the few in the middle bin are put in order. No comparison on the way is a coin toss, which is what
 * partitioning costs. May reorder the values. No value may be NaN.
 */
export function middle(values: Float32Array, count: number, from: number, step: number): number {
  if (count < FEWEST || count > binOf.length) return medianInPlace(values, count);
  const perStep = 1 / step;
  counts.fill(0);
  for (let i = 0; i < count; i++) {
    const at = (values[i]! - from) * perStep;
    const bin = at >= BINS ? BINS - 1 : at > 0 ? at | 0 : 0;
    binOf[i] = bin;
    counts[bin]!++;
  }
  const upperRank = count >> 1;
  const lowerRank = count % 2 === 1 ? upperRank : upperRank - 1;
  let below = 0;
  let lowBin = 0;
  while (below + counts[lowBin]! <= lowerRank) below += counts[lowBin++]!;
  let highBin = lowBin;
  for (let through = below + counts[lowBin]!; through <= upperRank; ) through += counts[++highBin]!;
  // The outermost bins hold whatever lies beyond.
  if (lowBin === 0 || highBin === BINS - 1) return medianInPlace(values, count);
  let kept = 0;
  for (let i = 0; i < count; i++) {
    const bin = binOf[i]!;
    if (bin >= lowBin && bin <= highBin) near[kept++] = values[i]!;
  }
  sort(kept);
  return (near[lowerRank - below]! + near[upperRank - below]!) / 2;
}

function sort(count: number): void {
  for (let i = 1; i < count; i++) {
    const value = near[i]!;
    let j = i - 1;
    while (j >= 0 && near[j]! > value) {
      near[j + 1] = near[j]!;
      j--;
    }
    near[j + 1] = value;
  }
}
