interface Expected {
  site: string;
  timeMs: number;
  /** Sites passed before it on the same way. */
  over: readonly string[];
}

/**
 * Where a train is expected, way by way, each in the order in which the train would come by: where the line divides ahead nobody
 * here knows which way it takes, and one after the other they would pass for a single one.
 */
export function waysOf<T extends Expected>(expected: readonly T[]): T[][] {
  const last = expected.filter(({ site }) => !expected.some(({ over }) => over.includes(site)));
  return last
    .map((end) => [...expected.filter(({ site }) => end.over.includes(site)), end].sort((a, b) => a.timeMs - b.timeMs))
    .sort(([a], [b]) => (a?.timeMs ?? 0) - (b?.timeMs ?? 0));
}
