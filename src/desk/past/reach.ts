import type { Log } from "../../log/log.ts";
import type { Stretch } from "../../replay/partition-reader.ts";

const HOUR_MS = 3_600_000;

/** How far before a time a topic is read for the pages of that time: hours, and records of a partition. Assumptions of ours. */
export interface Reach {
  topic: string;
  hours: number;
  most: number;
}

const ALL = Number.POSITIVE_INFINITY;

/** What passes are levelled, named and shown with: read before them, so that the trains are the same whoever reads. */
export const BEFORE_PASSES: readonly Reach[] = [
  { topic: "calibrations", hours: 96, most: 40_000 },
  { topic: "consists", hours: 48, most: 20_000 },
  { topic: "site-conditions", hours: ALL, most: 100_000 },
  { topic: "functional-tests", hours: ALL, most: 20_000 },
  { topic: "warnings", hours: ALL, most: 250_000 },
  { topic: "desk-actions", hours: ALL, most: 250_000 },
];

/** Passes are large: a day of them for the line's diagram, and two hours more for a train under way. */
export const PASSES: readonly Reach[] = [
  { topic: "passes", hours: 26, most: 40_000 },
  { topic: "site-reports", hours: 12, most: 60_000 },
];

/** A stretch of one partition, and whether the log once held more in front of it that was wanted too. */
export interface Wanted {
  stretch: Stretch;
  /** From when on it was wanted. */
  wantedFromMs: number;
  isCut: boolean;
}

/**
 * The stretches of the log behind the pages of a time. `untilMs` null: up to the end, and as many as may be whatever their
 * time, which is all that can be said where recorded days are fed in (there the log's own times mean nothing).
 */
export async function wantedOf(log: Log, reaches: readonly Reach[], untilMs: number | null): Promise<Wanted[]> {
  const wanted = await Promise.all(reaches.map((reach) => wantedOfTopic(log, reach, untilMs)));
  return wanted.flat();
}

async function wantedOfTopic(log: Log, { topic, hours, most }: Reach, untilMs: number | null): Promise<Wanted[]> {
  const extent = await log.extent(topic);
  const wantedFromMs = untilMs === null || hours === ALL ? Number.NEGATIVE_INFINITY : untilMs - hours * HOUR_MS;
  const ends = untilMs === null ? null : await log.offsetsAt(topic, untilMs + 1);
  const begins = Number.isFinite(wantedFromMs) ? await log.offsetsAt(topic, wantedFromMs) : null;
  return extent.map(({ partition, from: first, end: last }) => {
    const end = Math.max(first, Math.min(last, ends?.find((one) => one.partition === partition)?.offset ?? last));
    const begin = begins?.find((one) => one.partition === partition)?.offset ?? first;
    const from = Math.min(end, Math.max(first, begin, end - most));
    return {
      stretch: { topic, partition, from, end, fromMs: Number.NEGATIVE_INFINITY, toMs: Number.POSITIVE_INFINITY },
      wantedFromMs,
      isCut: begins !== null && first > 0 && begin <= first,
    };
  });
}
