import { ticks } from "../../flow/ticker.ts";
import type { Log, NewRecord } from "../../log/log.ts";
import { INBOUND } from "../../log/topics.ts";
import type { DueRecord } from "./demo-feed.ts";

/** As often as the clock of a live system ticks, or nearly; in the day's own time. */
const TICK_EVERY_MS = 10_000;

/** Hands a recorded day to the log as it would come live: its records, and between them the ticks of the day's own clock. */
export class DayIntoLog {
  private readonly log: Log;
  private readonly sources: readonly { topic: string; partition: number }[];
  private tickedMs = Number.NEGATIVE_INFINITY;

  private constructor(log: Log, sources: readonly { topic: string; partition: number }[]) {
    this.log = log;
    this.sources = sources;
  }

  static async into(log: Log): Promise<DayIntoLog> {
    const sources: { topic: string; partition: number }[] = [];
    for (const topic of INBOUND) {
      for (let partition = 0, count = await log.partitions(topic); partition < count; partition++) sources.push({ topic, partition });
    }
    return new DayIntoLog(log, sources);
  }

  async take(due: readonly DueRecord[]): Promise<void> {
    const records: NewRecord[] = [];
    for (const { topic, key, record, dueMs } of due) {
      if (dueMs - this.tickedMs >= TICK_EVERY_MS) {
        this.tickedMs = dueMs;
        records.push(...ticks(this.sources, dueMs));
      }
      records.push({ topic, key, value: JSON.stringify(record) });
    }
    await this.log.append(records);
  }
}
