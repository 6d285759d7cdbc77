import { sourceKey } from "../../src/log/group.ts";
import type { Batch, Log, LogRecord, Membership, Source, Worker } from "../../src/log/log.ts";

/** What a client of a real log may do with a batch: hand out nothing first, hand out the one before again, or leave it out. */
export type Slip = "none" | "empty" | "again" | "left-out";

/** How the slips of one process are drawn, and where it waits. */
export interface Slips {
  slip(): Slip;
  pass(): Promise<void>;
}

/**
 * A process's log over a client that slips, as that of a cluster does: batches that hold nothing or were handed out before,
 * one that is never handed out (the next says from where on it knows, `Batch.from`), and a word about where to read from that
 * takes effect only later, unless the worker says something else meanwhile.
 */
export function slippingLog(log: Log, slips: Slips): Log {
  return {
    partitions: (topic) => log.partitions(topic),
    extent: (topic) => log.extent(topic),
    offsetsAt: (topic, timeMs) => log.offsetsAt(topic, timeMs),
    append: (records) => log.append(records),
    claim: (source) => log.claim(source),
    tail: (from, handler) => log.tail(from, handler),
    close: () => log.close(),
    work: async (stage, topics, worker) => {
      const wishes = new Map<string, number>();
      const wish = (source: Source) => {
        const key = sourceKey(source);
        wishes.set(key, (wishes.get(key) ?? 0) + 1);
        return wishes.get(key)!;
      };
      const membership = await log.work(stage, topics, slippingWorker(worker, slips, wish));
      return lateMembership(membership, slips, wish, (source, wished) => wishes.get(sourceKey(source)) === wished);
    },
  };
}

function slippingWorker(worker: Worker, slips: Slips, wish: (source: Source) => number): Worker {
  const before = new Map<string, readonly LogRecord[]>();
  const handOut = (source: Source, batch: Batch, records: readonly LogRecord[]) => {
    const handed: Batch = {
      records,
      from: records[0]?.offset ?? batch.records[0]?.offset,
      end: batch.end,
      heartbeat: () => batch.heartbeat(),
      get stale() {
        return batch.stale;
      },
    };
    return worker.records(source, handed);
  };
  return {
    assigned: (source, signal) => {
      wish(source);
      return worker.assigned(source, signal);
    },
    records: async (source, batch) => {
      const key = sourceKey(source);
      const slip = slips.slip();
      // With more at hand: what nothing follows is for a watchdog to find.
      if (slip === "left-out" && batch.records.at(-1)!.offset + 1 < batch.end) return;
      if (slip === "empty") await handOut(source, batch, []);
      if (slip === "again") await handOut(source, batch, before.get(key) ?? []);
      if (batch.stale) return;
      await handOut(source, batch, batch.records);
      before.set(key, batch.records);
    },
    revoked: (source) => worker.revoked(source),
  };
}

function lateMembership(
  membership: Membership,
  slips: Slips,
  wish: (source: Source) => number,
  isLast: (source: Source, wished: number) => boolean,
): Membership {
  return {
    broken: membership.broken,
    leave: () => membership.leave(),
    pause: (source) => {
      wish(source);
      membership.pause(source);
    },
    resume: (source, from) => {
      const wished = wish(source);
      membership.pause(source);
      void slips.pass().then(() => {
        if (isLast(source, wished)) membership.resume(source, from);
      });
    },
  };
}
