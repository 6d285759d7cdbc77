import type { Log, LogRecord } from "../../log/log.ts";
import { PartitionReader, type Stretch } from "../../replay/partition-reader.ts";
import type { Turn } from "../turn.ts";

/**
 * Hands every record of some stretches over, one partition after the other, in turns. `take` answers false when it wants no
 * more. The readers are opened together, for a cluster takes its time over each; every one holds a batch at most.
 */
export async function readStretches(
  log: Pick<Log, "tail" | "extent">,
  stretches: readonly Stretch[],
  turn: Turn,
  take: (record: LogRecord) => boolean | undefined | Promise<undefined>,
): Promise<void> {
  const wanted = stretches.filter(({ from, end }) => from < end);
  const open = new Set(await Promise.all(wanted.map((stretch) => PartitionReader.open(log, stretch))));
  try {
    for (const reader of open) {
      for (await reader.ready(); Number.isFinite(reader.nextMs); await reader.ready()) {
        if ((await take(reader.take())) === false) return;
        await turn.over();
      }
      // It would read on behind its stretch for nothing.
      open.delete(reader);
      await reader.close();
    }
  } finally {
    await Promise.all([...open].map((reader) => reader.close()));
  }
}

/** What `find` makes of the first record of each stretch of which it makes anything. They are read together: opening a reader takes its time. */
export async function firstOf<T>(
  log: Pick<Log, "tail" | "extent">,
  stretches: readonly Stretch[],
  turn: Turn,
  find: (record: LogRecord) => T | null,
): Promise<T[]> {
  const found = await Promise.all(
    stretches.map(async (stretch) => {
      let first: T | null = null;
      await readStretches(log, [stretch], turn, (record) => {
        first = find(record);
        return first === null;
      });
      return first as T | null;
    }),
  );
  return found.filter((one) => one !== null);
}
