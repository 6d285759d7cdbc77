import { AssembleStage } from "../../src/flow/assemble-stage.ts";
import { FollowStage } from "../../src/flow/follow-stage.ts";
import type { Outcome } from "../../src/flow/sink.ts";
import type { Log, LogRecord, Source } from "../../src/log/log.ts";
import { INBOUND, TOPICS, type TopicName } from "../../src/log/topics.ts";
import { demoRailroad, demoRules } from "../flow/folded.ts";
import { readAll, waitFor } from "../log/contract.ts";
import { type Expected, mismatch, sequential } from "../simulation/sequential.ts";

/** What must be true of the log, however its processes fared. */
export interface Verdict {
  /** Everything found wrong, in words. */
  wrong: string[];
  records: number;
  outcomes: Record<Outcome, number>;
  warnings: number;
  warningVersions: number;
  passes: number;
}

const OUT: readonly TopicName[] = TOPICS.filter(({ flow }) => flow !== "in").map(({ name }) => name);
const PATIENCE_MS = 120_000;

/**
 * Reads everything that is committed and holds it against plain folds of the same input partitions from first record to
 * last: of each source all outputs are there, once, in order, and nothing else; and every input is accounted for.
 */
export async function check(log: Log): Promise<Verdict> {
  const railroad = demoRailroad();
  const rules = demoRules();
  const foldOf = ({ stage, topic, partition }: Source) =>
    stage === "assemble" ? new AssembleStage(railroad, { topic, partition }, "feed") : new FollowStage(railroad, rules, partition, "feed");
  const topics = new Map<string, LogRecord[][]>();
  for (const { name } of TOPICS) topics.set(name, await everything(log, name));

  const sources: Source[] = [
    ...INBOUND.flatMap((topic) => topics.get(topic)!.map((_, partition) => ({ stage: "assemble", topic, partition }))),
    ...topics.get("passes")!.map((_, partition) => ({ stage: "follow", topic: "passes", partition })),
  ];
  const expected: Expected[] = sources.map((source) =>
    sequential(foldOf(source), `${source.stage} of ${source.topic}/${source.partition}`, topics.get(source.topic)![source.partition]!),
  );
  const wrong: string[] = [];
  for (const topic of OUT) {
    const partitions = topics.get(topic)!;
    for (const [partition, records] of partitions.entries()) {
      const words = mismatch(records, topic, partition, partitions.length, expected);
      if (words !== null) wrong.push(words);
    }
  }
  wrong.push(...saidTwice(topics.get("warnings")!.flat()));

  const outcomes: Record<Outcome, number> = { used: 0, late: 0, repeated: 0, rejected: 0 };
  for (const one of expected) for (const outcome of Object.keys(outcomes) as Outcome[]) outcomes[outcome] += one.outcomes[outcome];
  const records = sources.reduce((sum, { topic, partition }) => sum + topics.get(topic)![partition]!.length, 0);
  const accounted = outcomes.used + outcomes.late + outcomes.repeated + outcomes.rejected;
  if (accounted !== records) wrong.push(`${records} records went in, ${accounted} are accounted for`);
  const warnings = topics.get("warnings")!.flat();
  return {
    wrong,
    records,
    outcomes,
    warnings: new Set(warnings.map(({ key }) => key)).size,
    warningVersions: warnings.length,
    passes: topics.get("passes")!.flat().length,
  };
}

/** A version of a warning that stands in the log more than once. */
function saidTwice(warnings: readonly LogRecord[]): string[] {
  const seen = new Set<string>();
  return warnings.flatMap(({ headers }) => {
    const id = headers["ce_id"] ?? "without an id";
    if (!seen.has(id)) {
      seen.add(id);
      return [];
    }
    return [`warning ${id} was published twice`];
  });
}

/** Every committed record of a topic, by partition. */
async function everything(log: Log, topic: string): Promise<LogRecord[][]> {
  const extent = await log.extent(topic);
  const records: LogRecord[][] = extent.map(() => []);
  const known = extent.reduce((sum, { from, end }) => sum + end - from, 0);
  if (known === 0) return records;
  // Offsets count the markers of transactions too, so how many records there are is known only when no more come.
  let quietSinceMs = performance.now();
  const tail = await log.tail(
    extent.map(({ partition, from }) => ({ topic, partition, offset: from })),
    {
      records: async (batch) => {
        records[batch.partition]!.push(...batch.records);
        quietSinceMs = performance.now();
      },
    },
  );
  await waitFor(() => performance.now() - quietSinceMs > 3_000, PATIENCE_MS);
  await tail.close();
  return records;
}

export { readAll };
