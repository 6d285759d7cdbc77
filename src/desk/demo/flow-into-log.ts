import type { DeskAction } from "../../feed/record.ts";
import { RailroadFlow } from "../../flow/railroad-flow.ts";
import type { Sink } from "../../flow/sink.ts";
import type { Railroad } from "../../line/railroad.ts";
import type { Log, NewRecord, Tail } from "../../log/log.ts";
import { recordOfPass } from "../../pass/pass-record.ts";
import type { RuleBook } from "../../warning/rule-book.ts";
import type { DueRecord } from "./demo-feed.ts";
import type { NightShift } from "./night-shift.ts";

/** Records appended at once. */
const MOST_AT_ONCE = 500;

/**
 * The folds of a replay, run by hand between a recorded day and a log: what comes out goes into the topics that the live
 * stages would write, and desk actions come back in from theirs.
 */
export class FlowIntoLog {
  private readonly log: Log;
  private readonly flow: RailroadFlow;
  private readonly railroad: Railroad;
  private waiting: NewRecord[] = [];
  private tail: Tail | null = null;
  private offset = 0;

  private readonly shift: NightShift;

  constructor(log: Log, railroad: Railroad, book: RuleBook, shift: NightShift) {
    this.log = log;
    this.shift = shift;
    this.railroad = railroad;
    this.flow = new RailroadFlow(railroad, book, this.sink());
  }

  async open(): Promise<void> {
    const from = (await this.log.extent("desk-actions")).map(({ partition, end }) => ({ topic: "desk-actions", partition, offset: end }));
    this.tail = await this.log.tail(from, {
      records: async ({ records }) => {
        for (const record of records)
          this.act(JSON.parse(Buffer.from(record.value).toString("utf8")) as DeskAction, record.partition, record.offset);
        await this.flush();
      },
    });
  }

  async take(due: readonly DueRecord[]): Promise<void> {
    for (const { topic, key, record, dueMs } of due) {
      for (const action of this.shift.take(dueMs)) this.put("desk-actions", action.warning ?? "", action);
      // The desk reads what sites say of themselves, and who is in a train, from their own topics.
      if (topic === "site-reports" || topic === "consists") this.put(topic, key, record);
      this.flow.step(record, topic, 0, this.offset++);
    }
    await this.flush();
  }

  async close(): Promise<void> {
    await this.tail?.close();
  }

  private act(action: DeskAction, partition: number, offset: number): void {
    this.flow.step(action, "desk-actions", partition, offset);
  }

  private put(topic: string, key: string, value: unknown): void {
    this.waiting.push({ topic, key, value: JSON.stringify(value) });
  }

  private async flush(): Promise<void> {
    const waiting = this.waiting;
    this.waiting = [];
    for (let i = 0; i < waiting.length; i += MOST_AT_ONCE) await this.log.append(waiting.slice(i, i + MOST_AT_ONCE));
  }

  private sink(): Sink {
    return {
      pass: (pass) => {
        const value = JSON.stringify(recordOfPass(pass));
        for (const key of this.railroad.corridorsOf(pass.site)) this.waiting.push({ topic: "passes", key, value });
      },
      warning: (warning) => {
        this.put("warnings", warning.id, warning);
        this.shift.see(warning);
      },
      condition: (condition) => this.put("site-conditions", condition.site, condition),
      calibration: (calibration) => this.put("calibrations", calibration.site, calibration),
      rejected: (rejected) => this.put("rejected", rejected.topic, rejected),
      settled: () => {},
    };
  }
}
