import type { Log } from "./log.ts";

/** A stretch of one partition: offsets from the first wanted to the one after the last. */
export interface Between {
  topic: string;
  partition: number;
  from: number;
  end: number;
}

/**
 * Whether a reader of its own is handed a record of a stretch within a time: true, the stretch holds records, and whoever was
 * handed none of them only stands still; false, what stands there was never committed or is no record (a log may count marks
 * of its own among the offsets). @throws what the log says when it cannot be read
 */
export async function holdsRecords(
  log: Pick<Log, "tail" | "extent">,
  { topic, partition, from, end }: Between,
  withinMs: number,
): Promise<boolean> {
  const { promise, resolve, reject } = Promise.withResolvers<boolean>();
  const tail = await log.tail([{ topic, partition, offset: from }], {
    records: async ({ records }) => {
      const first = records[0];
      if (first !== undefined) resolve(first.offset < end);
    },
  });
  const timer = setTimeout(() => resolve(false), withinMs);
  void tail.broken.then(reject);
  try {
    const holds = await promise;
    // A cluster that hands nothing to anybody holds who knows what: it must at least answer for the partition.
    if (!holds) await log.extent(topic);
    return holds;
  } finally {
    clearTimeout(timer);
    await tail.close();
  }
}
