import type { Outcome } from "../../src/flow/sink.ts";
import type { StageFold } from "../../src/flow/stage-fold.ts";
import type { LogRecord, NewRecord } from "../../src/log/log.ts";
import { partitionOf } from "../../src/log/partition-of.ts";

/** What one input partition must have led to: its fold run once from the first record to the last. */
export interface Expected {
  source: string;
  outputs: NewRecord[];
  outcomes: Record<Outcome, number>;
}

export function sequential(fold: StageFold, source: string, records: readonly LogRecord[]): Expected {
  const outputs: NewRecord[] = [];
  const outcomes = { used: 0, late: 0, repeated: 0, rejected: 0 };
  for (const record of records) outcomes[fold.step(record, { put: (output) => outputs.push(output) })]++;
  return { source, outputs, outcomes };
}

/**
 * Whether a partition of an output topic holds what its sources must have led to: of each source all of it, once, in order;
 * how the sources lie between each other is free. Answers with what is wrong, null when nothing is.
 */
export function mismatch(
  actual: readonly LogRecord[],
  topic: string,
  partition: number,
  partitions: number,
  expected: readonly Expected[],
): string | null {
  const queues = expected.map(({ source, outputs }) => ({
    source,
    left: outputs
      .filter((output) => output.topic === topic && (output.partition ?? partitionOf(output.key, partitions)) === partition)
      .map(said),
    at: 0,
  }));
  for (const record of actual) {
    const words = said(record);
    const from = queues.find(({ left, at }) => left[at] === words);
    if (from === undefined) {
      const known = queues.find(({ left }) => left.includes(words));
      return `${topic}/${partition}@${record.offset} ${known === undefined ? "should not be there" : `of ${known.source} is out of order or there twice`}: ${words.slice(0, 300)}`;
    }
    from.at++;
  }
  const short = queues.find(({ left, at }) => at < left.length);
  return short === undefined ? null : `${topic}/${partition} lacks of ${short.source}: ${short.left[short.at]!.slice(0, 300)}`;
}

function said(record: Pick<NewRecord, "key" | "value" | "headers"> | LogRecord): string {
  const value = typeof record.value === "string" ? record.value : Buffer.from(record.value).toString("utf8");
  return `${record.headers?.["ce_id"]} ${record.key} ${value}`;
}
