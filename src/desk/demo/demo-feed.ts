import { readFeed } from "../../feed/feed-file.ts";
import { decodeLine } from "../../feed/feed-line.ts";
import type { FeedRecord } from "../../feed/record.ts";
import { EventTime } from "../../flow/event-time.ts";

/** A record of the recorded day, and when it is due. */
export interface DueRecord {
  dueMs: number;
  topic: string;
  key: string;
  record: FeedRecord;
}

const DAY_MS = 24 * 3_600_000;

/**
 * The recorded day, again and again, each round a day later than the one before. A record is due at its own time, in the
 * order of the file; a clock that no second site confirms does not hold up the others, and what arrived late comes late.
 */
export async function* demoFeed(path: string, sites: number, rounds = Number.POSITIVE_INFINITY): AsyncGenerator<DueRecord[]> {
  let dueMs = Number.NEGATIVE_INFINITY;
  for (let round = 0; round < rounds; round++) {
    const shiftMs = round * DAY_MS;
    const time = new EventTime(() => sites);
    for await (const batch of readFeed(path)) {
      const due: DueRecord[] = [];
      for (const line of batch) {
        const decoded = decodeLine(line);
        // What cannot be read is for `replay` to show; a demonstration leaves it out.
        if (decoded.rejected !== undefined) continue;
        const record = shifted(decoded.record, shiftMs);
        if ("time" in record && "site" in record && record.site !== undefined) time.hear(record.site, Date.parse(record.time));
        if (time.confirmedMs > dueMs) dueMs = time.confirmedMs;
        due.push({ dueMs, topic: line.topic, key: line.key, record });
      }
      if (due.length > 0) yield due;
    }
  }
}

function shifted(record: FeedRecord, shiftMs: number): FeedRecord {
  if (shiftMs === 0 || !("time" in record)) return record;
  return { ...record, time: new Date(Date.parse(record.time) + shiftMs).toISOString() };
}
