import { AssembleStage } from "../../src/flow/assemble-stage.ts";
import { wallClock } from "../../src/flow/clock.ts";
import { FollowStage } from "../../src/flow/follow-stage.ts";
import { startStage } from "../../src/flow/stage.ts";
import { ticks } from "../../src/flow/ticker.ts";
import type { Railroad } from "../../src/line/railroad.ts";
import type { LogRecord, NewRecord } from "../../src/log/log.ts";
import { MemoryBroker, type MemoryLog } from "../../src/log/memory.ts";
import { INBOUND, partitionsOf } from "../../src/log/topics.ts";
import { silentLogger } from "../../src/telemetry/logger.ts";
import { createMetrics } from "../../src/telemetry/metrics.ts";
import type { RuleBook } from "../../src/warning/rule-book.ts";
import type { Arrival } from "../flow/folded.ts";

/** Ticks this far apart, by the log's clock, which is the feed's here: a day goes by in seconds. */
const TICK_MS = 60_000;
/** So long after the last record every pass has timed out. */
const AFTER_MS = 4 * 3_600_000;

/** A log with both stages running over it, in memory, its clock driven by what arrives. */
export class LiveRun {
  readonly broker: MemoryBroker;
  /** The log's own clock. */
  nowMs: number;
  private readonly sources: { topic: string; partition: number }[];
  private readonly ticker: MemoryLog;
  private tickMs: number;
  private readonly closes: (() => Promise<void>)[] = [];

  constructor(startMs: number) {
    const partitions = partitionsOf();
    this.nowMs = startMs;
    this.broker = new MemoryBroker({ partitions, now: () => this.nowMs, waitingBytes: 1 << 30 });
    this.ticker = this.broker.connect();
    this.tickMs = startMs;
    this.sources = INBOUND.flatMap((topic) => Array.from({ length: partitions.get(topic)! }, (_, partition) => ({ topic, partition })));
  }

  async start(railroad: Railroad, rules: RuleBook): Promise<void> {
    const log = this.broker.connect();
    const parts = { log, clock: wallClock, metrics: createMetrics({ version: "test", nodeDefaults: false }), logger: silentLogger() };
    const assemble = await startStage({
      ...parts,
      name: "assemble",
      topics: INBOUND,
      make: (source) => new AssembleStage(railroad, source, "arrival"),
    });
    const follow = await startStage({
      ...parts,
      name: "follow",
      topics: ["passes"],
      make: ({ partition }, start) => new FollowStage(railroad, rules, partition, "arrival", start),
    });
    this.closes.push(assemble.close, follow.close, () => log.close());
  }

  /** Everything that arrives, each at its time, with ticks in between and long after; stages fold it as they come to it. */
  async feed(arrivals: readonly Arrival[], breathe = true): Promise<void> {
    await this.arrive(arrivals, breathe);
    await this.end(breathe);
  }

  /** The same, and more will come. */
  async arrive(arrivals: readonly Arrival[], breathe = true): Promise<void> {
    const log = this.broker.connect();
    for (const { topic, key, json, atMs } of arrivals) {
      await this.tickTo(atMs, breathe);
      this.nowMs = Math.max(this.nowMs, atMs);
      await log.append([{ topic, key, value: json } satisfies NewRecord]);
    }
  }

  /** Time goes on to `ms`, ticks and all. */
  async tickTo(ms: number, breathe = true): Promise<void> {
    for (; this.tickMs <= ms; this.tickMs += TICK_MS) {
      this.nowMs = this.tickMs;
      await this.ticker.append(ticks(this.sources, this.tickMs));
      // Ends of passes and their readings reach `follow` in whatever order partitions overtake each other.
      if (breathe) await new Promise((resolve) => setImmediate(resolve));
    }
  }

  /** Nothing comes any more until every pass has timed out. */
  async end(breathe = true): Promise<void> {
    await this.tickTo(this.nowMs + AFTER_MS, breathe);
  }

  /** Resolves when both stages have folded and committed all there is. */
  async settled(): Promise<void> {
    const behind = () =>
      [...this.sources.map((source) => ({ ...source, stage: "assemble" })), ...this.passesSources()].some(
        (source) => this.broker.standing(source).position < this.broker.end(source.topic, source.partition),
      );
    while (behind()) await new Promise((resolve) => setTimeout(resolve, 20));
  }

  async close(): Promise<void> {
    for (const close of this.closes.splice(0)) await close();
  }

  records(topic: string): LogRecord[] {
    const all: LogRecord[] = [];
    for (let partition = 0; partition < this.broker.partitions(topic); partition++) {
      const end = this.broker.end(topic, partition);
      let from = 0;
      while (from < end) {
        const some = this.broker.read(topic, partition, from);
        all.push(...some);
        from += some.length;
      }
    }
    return all;
  }

  texts(topic: string): string[] {
    return this.records(topic).map(({ value }) => Buffer.from(value).toString("utf8"));
  }

  private passesSources() {
    return Array.from({ length: this.broker.partitions("passes") }, (_, partition) => ({ stage: "follow", topic: "passes", partition }));
  }
}
