/** A share with its 95 % interval. */
export interface Share {
  hits: number;
  of: number;
  share: number;
  low: number;
  high: number;
}

/** Standard normal quantile of a two-sided 95 % interval. */
const Z95 = 1.959963984540054;
const BOOTSTRAPS = 400;

/** Wilson's score interval (Wilson 1927): honest near 0 and 1, where measurements of safety live. NaN of nothing. */
export function wilson(hits: number, of: number): Share {
  if (of === 0) return { hits, of, share: Number.NaN, low: Number.NaN, high: Number.NaN };
  const share = hits / of;
  const z2 = Z95 * Z95;
  const middle = (share + z2 / (2 * of)) / (1 + z2 / of);
  const half = (Z95 / (1 + z2 / of)) * Math.sqrt((share * (1 - share)) / of + z2 / (4 * of * of));
  return { hits, of, share, low: Math.max(0, middle - half), high: Math.min(1, middle + half) };
}

export interface Median {
  median: number;
  low: number;
  high: number;
  of: number;
}

/** Median with a bootstrap interval (percentiles of resampled medians). The resampling has a fixed seed: same values, same interval. */
export function medianOf(values: readonly number[]): Median {
  const of = values.length;
  if (of === 0) return { median: Number.NaN, low: Number.NaN, high: Number.NaN, of };
  const draw = generator(of);
  const medians: number[] = [];
  const sample = new Float64Array(of);
  for (let b = 0; b < BOOTSTRAPS; b++) {
    for (let i = 0; i < of; i++) sample[i] = values[Math.floor(draw() * of)]!;
    medians.push(quantile(sample.slice().sort(), 0.5));
  }
  const sorted = Float64Array.from(medians).sort();
  return { median: quantile(Float64Array.from(values).sort(), 0.5), low: quantile(sorted, 0.025), high: quantile(sorted, 0.975), of };
}

/** Quantile of sorted values, straight lines between them. */
export function quantile(sorted: ArrayLike<number>, share: number): number {
  const at = share * (sorted.length - 1);
  const below = Math.floor(at);
  const low = sorted[below] ?? Number.NaN;
  const high = sorted[Math.min(sorted.length - 1, below + 1)] ?? low;
  return low + (at - below) * (high - low);
}

/** A linear congruential generator (multiplier and increment of Numerical Recipes, from memory): only resampling hangs on it. */
function generator(seed: number): () => number {
  let state = (seed * 2_654_435_761) >>> 0;
  return () => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return state / 4_294_967_296;
  };
}
