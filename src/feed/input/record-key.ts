import type { FeedRecord } from "../record.ts";

/**
 * The key of a record, from the record itself: what the sender wrote beside it may be wrong, and a site's readings that
 * went to two partitions would never meet again. null: a tick or a line, which no sender may send.
 */
export function keyOf(record: FeedRecord): string | null {
  switch (record.type) {
    case "axles":
    case "pass-begun":
    case "pass-ended":
      return `${record.site}/${record.track}`;
    case "consist":
      return record.train;
    case "desk-action":
      return record.warning ?? record.site ?? "";
    case "tick":
    case "line":
      return null;
    default:
      return record.site;
  }
}
