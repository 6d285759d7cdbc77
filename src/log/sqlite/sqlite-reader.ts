import { Delivery } from "../delivery.ts";
import type { Log, LogRecord, Tail, TailHandler } from "../log.ts";
import { openForReading } from "./layout.ts";
import { SqliteShelf } from "./shelf.ts";

/** What a reader of a log can do: no claims, no writing. */
export type ReadableLog = Pick<Log, "extent" | "tail" | "close">;

/**
 * The embedded log of a data folder as it was when this was called, read beside the process that has it open, or when none
 * has. @throws LogUnreadableError
 */
export function openSqliteReader(folder: string): ReadableLog {
  const reading = openForReading(folder);
  const rows = reading.prepare("SELECT topic, partition, first, next FROM partition").all();
  const partitions = rows as unknown as ConstructorParameters<typeof SqliteShelf>[1];
  const shelf = new SqliteShelf(reading, partitions);
  const open = new Set<Delivery>();
  return {
    extent: async (topic) =>
      Array.from({ length: shelf.partitions(topic) }, (_, partition) => ({
        partition,
        from: shelf.first(topic, partition),
        end: shelf.end(topic, partition),
      })),
    tail: async (from, handler) => tailOf(shelf, open, from, handler),
    close: async () => {
      await Promise.all([...open].map((delivery) => delivery.stop()));
      reading.close();
    },
  };
}

function tailOf(
  shelf: SqliteShelf,
  open: Set<Delivery>,
  from: readonly { topic: string; partition: number; offset: number }[],
  handler: TailHandler,
): Tail {
  const { promise: broken, resolve: fail } = Promise.withResolvers<Error>();
  const deliveries = from.map(({ topic, partition, offset }) => {
    const hand = (records: readonly LogRecord[], end: number) => handler.records({ topic, partition, records, end });
    const delivery = new Delivery(shelf, topic, partition, hand, fail);
    open.add(delivery);
    delivery.resume(offset);
    return delivery;
  });
  return {
    broken,
    close: async () => {
      for (const delivery of deliveries) open.delete(delivery);
      await Promise.all(deliveries.map((delivery) => delivery.stop()));
    },
  };
}
