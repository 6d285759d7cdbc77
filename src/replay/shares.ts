import type { Railroad } from "../line/railroad.ts";

/** Threads that fold a day, at most: each has a heap of its own, and few railroads have more corridors worth a thread. Assumption. */
export const MOST_THREADS = 8;

/**
 * Corridors dealt out to threads, the heaviest first, each to the thread that has least so far: by the sites that they hear.
 * What is left lightest is the first share, for its thread reads and writes as well. None is empty.
 */
export function dealt(railroad: Railroad, threads: number): string[][] {
  const heavy = railroad.corridors.map(({ id, sites, leadIn }) => ({ id, weight: sites.length + leadIn.length }));
  heavy.sort((a, b) => b.weight - a.weight);
  const shares = Array.from({ length: Math.max(1, Math.min(threads, heavy.length)) }, () => ({ weight: 0, corridors: [] as string[] }));
  for (const { id, weight } of heavy) {
    const least = shares.reduce((one, other) => (other.weight < one.weight ? other : one));
    least.weight += weight;
    least.corridors.push(id);
  }
  return shares.sort((a, b) => a.weight - b.weight).map(({ corridors }) => corridors);
}
