import type { LogRecord } from "../../../src/log/log.ts";
import { MemoryBroker, type MemoryFaults, type MemoryLog, type MemoryOptions } from "../../../src/log/memory.ts";
import { TOPICS } from "../../../src/log/topics.ts";
import { createMetrics, type FeedMetrics } from "../../../src/telemetry/metrics.ts";

/** A log in memory with every topic, one partition each. */
export class Taken {
  readonly broker: MemoryBroker;
  readonly log: MemoryLog;

  constructor(faults: MemoryFaults = {}, options: Partial<MemoryOptions> = {}) {
    this.broker = new MemoryBroker({ partitions: new Map(TOPICS.map(({ name }) => [name, 1])), ...options });
    this.log = this.broker.connect(faults);
  }

  /** All records of a topic. */
  of(topic: string): LogRecord[] {
    const records: LogRecord[] = [];
    while (records.length < this.broker.end(topic, 0)) records.push(...this.broker.read(topic, 0, records.length));
    return records;
  }

  texts(topic: string): string[] {
    return this.of(topic).map(({ value }) => Buffer.from(value).toString("utf8"));
  }

  /** Values of a topic, opened. */
  values(topic: string): Record<string, unknown>[] {
    return this.texts(topic).map((text) => JSON.parse(text) as Record<string, unknown>);
  }
}

export function feedMetrics(): FeedMetrics {
  return createMetrics({ version: "test", nodeDefaults: false }).feed("test");
}

/** Resolves when a thing has come true; the test's own limit of time is the only one. */
export async function until(isTrue: () => boolean): Promise<void> {
  while (!isTrue()) await new Promise((resolve) => setTimeout(resolve, 5));
}
