/** Turns a median absolute deviation into the standard deviation of a normal distribution: 1 / quantile(0.75). */
export const MAD_TO_SD = 1.482602218505602;

/** Below this many values an insertion sort of the rest is quicker than another partition. */
const SMALL = 12;

/**
 * The k-th smallest (0-based) of `values[0..count)`, which is reordered on the way. O(n) on average: Hoare's selection with the
 * median of three as pivot. No value may be NaN. Errors: RangeError when k is outside.
 */
export function select(values: Float32Array | Float64Array, count: number, k: number): number {
  if (k < 0 || k >= count) throw new RangeError(`select: rank ${k} is outside 0..${count - 1}`);
  let low = 0;
  let high = count - 1;
  while (high - low > SMALL) {
    const pivot = medianOfThree(values[low]!, values[(low + high) >> 1]!, values[high]!);
    let i = low - 1;
    let j = high + 1;
    for (;;) {
      do i++;
      while (values[i]! < pivot);
      do j--;
      while (values[j]! > pivot);
      if (i >= j) break;
      const swap = values[i]!;
      values[i] = values[j]!;
      values[j] = swap;
    }
    if (k <= j) high = j;
    else low = j + 1;
  }
  sortSpan(values, low, high);
  return values[k]!;
}

function medianOfThree(a: number, b: number, c: number): number {
  return Math.max(Math.min(a, b), Math.min(Math.max(a, b), c));
}

function sortSpan(values: Float32Array | Float64Array, low: number, high: number): void {
  for (let i = low + 1; i <= high; i++) {
    const value = values[i]!;
    let j = i - 1;
    while (j >= low && values[j]! > value) {
      values[j + 1] = values[j]!;
      j--;
    }
    values[j + 1] = value;
  }
}

/** Median of `values[0..count)`, reordering them; the mean of the middle two when the count is even. NaN when there are none. */
export function medianInPlace(values: Float32Array | Float64Array, count: number): number {
  if (count === 0) return Number.NaN;
  const upper = select(values, count, count >> 1);
  if (count % 2 === 1) return upper;
  // After selection everything before the upper middle is no greater than it: the lower middle is their maximum.
  let lower = -Infinity;
  for (let i = (count >> 1) - 1; i >= 0; i--) if (values[i]! > lower) lower = values[i]!;
  return (lower + upper) / 2;
}

/** Median without touching the input; NaN values are left out. */
export function median(values: ArrayLike<number>): number {
  const kept = finite(values);
  return medianInPlace(kept, kept.length);
}

/** Median absolute deviation from the median (not scaled: times MAD_TO_SD it is a standard deviation). NaN values are left out. */
export function medianAbsoluteDeviation(values: ArrayLike<number>): number {
  const kept = finite(values);
  const centre = medianInPlace(kept, kept.length);
  for (let i = 0; i < kept.length; i++) kept[i] = Math.abs(kept[i]! - centre);
  return medianInPlace(kept, kept.length);
}

/** How a quantile between two values is placed. 6: rank (N+1)p, the NIST handbook's. 7: rank (N-1)p+1, the common default. */
export type QuantileType = 6 | 7;

/** Quantile p (0..1) by linear interpolation between ranks; the rule must be said, for fences move with it. NaN values are left out. */
export function quantile(values: ArrayLike<number>, p: number, type: QuantileType): number {
  const sorted = finite(values).sort();
  const count = sorted.length;
  if (count === 0) return Number.NaN;
  const rank = type === 6 ? (count + 1) * p : (count - 1) * p + 1;
  const below = Math.min(count, Math.max(1, Math.floor(rank)));
  const above = Math.min(count, below + 1);
  const share = Math.min(1, Math.max(0, rank - below));
  return sorted[below - 1]! + share * (sorted[above - 1]! - sorted[below - 1]!);
}

export interface Fences {
  q1: number;
  q3: number;
  inner: [number, number];
  outer: [number, number];
}

/** Tukey's fences: 1.5 and 3 interquartile ranges beyond the quartiles (NIST/SEMATECH e-Handbook 7.1.6 with type 6). */
export function fences(values: ArrayLike<number>, type: QuantileType): Fences {
  const q1 = quantile(values, 0.25, type);
  const q3 = quantile(values, 0.75, type);
  const range = q3 - q1;
  return { q1, q3, inner: [q1 - 1.5 * range, q3 + 1.5 * range], outer: [q1 - 3 * range, q3 + 3 * range] };
}

function finite(values: ArrayLike<number>): Float64Array {
  const kept = new Float64Array(values.length);
  let count = 0;
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    if (!Number.isNaN(value)) kept[count++] = value;
  }
  return kept.subarray(0, count);
}
