/**
 * Seeded random numbers. Every train, site and pass draws from its own stream, named by what it is, so that adding
 * one of them shifts none of the others. Not for secrets.
 */

/** Cells of the table of normal quantiles: the outermost lie at 4.0 standard deviations. */
const NORMAL_CELLS = 1 << 14;
const NORMAL_MASK = NORMAL_CELLS - 1;
const TWO_32 = 4294967296;

/** 32-bit hash of a name (FNV-1a with a final mix). */
function hashName(name: string, seed: number): number {
  let hash = (0x811c9dc5 ^ seed) >>> 0;
  for (let i = 0; i < name.length; i++) {
    hash ^= name.charCodeAt(i);
    hash = Math.imul(hash, 0x01000193);
  }
  hash ^= hash >>> 16;
  hash = Math.imul(hash, 0x85ebca6b);
  hash ^= hash >>> 13;
  return hash >>> 0;
}

/**
 * Standard normal density integrated by the trapezoid rule and inverted on a grid of probabilities: slow, exact enough
 * (1e-6), and free of a formula that would need a source.
 */
function normalQuantiles(): Float32Array {
  const table = new Float32Array(NORMAL_CELLS);
  const reach = 5;
  const step = 1e-4;
  const density = (x: number): number => Math.exp(-0.5 * x * x) / Math.sqrt(2 * Math.PI);
  let x = -reach;
  let below = 0;
  let here = density(x);
  for (let cell = 0; cell < NORMAL_CELLS; cell++) {
    const wanted = (cell + 0.5) / NORMAL_CELLS;
    while (below < wanted && x < reach) {
      const next = density(x + step);
      below += 0.5 * step * (here + next);
      here = next;
      x += step;
    }
    table[cell] = x;
  }
  return table;
}

const QUANTILES = normalQuantiles();

/** A stream of random numbers (xorshift128 by Marsaglia, 2003). */
export class Random {
  private a: number;
  private b: number;
  private c: number;
  private d: number;

  constructor(seed: number, name: string) {
    this.a = hashName(name, seed);
    this.b = hashName(name, this.a ^ 0x9e3779b9);
    this.c = hashName(name, this.b ^ 0x7f4a7c15);
    this.d = hashName(name, this.c ^ 0x2545f491) | 1;
    for (let i = 0; i < 8; i++) this.bits();
  }

  /** 32 random bits, unsigned. */
  bits(): number {
    let t = this.d;
    const s = this.a;
    this.d = this.c;
    this.c = this.b;
    this.b = s;
    t ^= t << 11;
    t ^= t >>> 8;
    this.a = t ^ s ^ (s >>> 19);
    return this.a >>> 0;
  }

  /** In [0, 1). */
  unit(): number {
    return this.bits() / TWO_32;
  }

  between(low: number, high: number): number {
    return low + (high - low) * this.unit();
  }

  /** Whole number in [0, count). */
  below(count: number): number {
    return Math.floor(this.unit() * count);
  }

  /** Whole number in [low, high]. */
  whole(low: number, high: number): number {
    return low + this.below(high - low + 1);
  }

  chance(probability: number): boolean {
    return this.unit() < probability;
  }

  /** Standard normal. */
  normal(): number {
    return QUANTILES[(this.bits() >>> 7) & NORMAL_MASK] as number;
  }

  exponential(mean: number): number {
    return -mean * Math.log(1 - this.unit());
  }

  /** Log-uniform: each factor of two is as likely as the next. */
  logBetween(low: number, high: number): number {
    return Math.exp(this.between(Math.log(low), Math.log(high)));
  }

  /** How many of rare independent events: whole part for sure, the rest by chance. */
  count(mean: number): number {
    const limit = Math.exp(-mean);
    let product = this.unit();
    let count = 0;
    while (product > limit && count < 1000) {
      product *= this.unit();
      count++;
    }
    return count;
  }

  pick<T>(list: readonly T[]): T {
    if (list.length === 0) throw new RangeError("SIM-001 nothing to pick from");
    return list[this.below(list.length)] as T;
  }

  /** By weights that need not add up to 1. */
  weighted<T>(list: readonly { weight: number; value: T }[]): T {
    let total = 0;
    for (const item of list) total += item.weight;
    let left = this.unit() * total;
    for (const item of list) {
      left -= item.weight;
      if (left < 0) return item.value;
    }
    return (list[list.length - 1] as { value: T }).value;
  }
}

/** The stream of one thing, e.g. `stream(7, "train", "T-0012", "load")`. */
export function stream(seed: number, ...names: (string | number)[]): Random {
  return new Random(seed | 0, names.join("/"));
}
