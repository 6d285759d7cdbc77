import type { EachBatchPayload } from "kafkajs";
import type { Batch, LogRecord } from "../log.ts";
import { isOfType } from "./faults.ts";
import type { Seat } from "./seat.ts";

/** A heartbeat that failed: the group shares anew. Kept until the batch is done, then thrown, which makes kafkajs join again. */
export class Lost {
  error: Error | null = null;
  /** Not known to the group any more: others may have our partitions already. */
  out = false;
}

/** The offset that a batch was asked for with; kafkajs's types leave it out. */
export function fetchedFrom(batch: EachBatchPayload["batch"]): number {
  return Number((batch as typeof batch & { fetchedOffset: string }).fetchedOffset);
}

export function batchOf(
  records: readonly LogRecord[],
  { from, end, through }: Pick<Batch, "from" | "end" | "through">,
  seat: Seat,
  lost: Lost,
  payload: EachBatchPayload,
): Batch {
  return {
    records,
    from,
    end,
    through,
    heartbeat: async () => {
      if (lost.error !== null) return;
      try {
        await payload.heartbeat();
      } catch (error) {
        lost.error = error instanceof Error ? error : new Error(String(error));
        lost.out = isOfType(error, "UNKNOWN_MEMBER_ID");
      }
    },
    get stale() {
      return seat.stale || lost.out;
    },
  };
}
