import { describe, expect, it } from "vitest";
import { decode } from "../../src/feed/decode.ts";
import { AssembleStage } from "../../src/flow/assemble-stage.ts";
import { FollowStage } from "../../src/flow/follow-stage.ts";
import { AHEAD_MS } from "../../src/flow/pace.ts";
import { RailroadFlow } from "../../src/flow/railroad-flow.ts";
import { ticks } from "../../src/flow/ticker.ts";
import type { LogRecord, NewRecord } from "../../src/log/log.ts";
import { MemoryBroker } from "../../src/log/memory.ts";
import { INBOUND, partitionsOf } from "../../src/log/topics.ts";
import { Random } from "../../src/simulate/random.ts";
import type { Warning } from "../../src/warning/warning.ts";
import { demoRailroad, demoRules, emptyFolded, simulated, sinkInto, standing } from "./folded.ts";

const railroad = demoRailroad();
const rules = demoRules();
const { feed } = simulated({ seed: 47, hours: 24, world: "mixed", trainsPerDay: 45, group: 32 }, railroad);
const TICK_EVERY_MS = 5 * 60_000;
/** So long after the last record every pass has closed and is settled. */
const AFTER_MS = 4 * 3_600_000;
/** Runs with each number of partitions. */
const RUNS = 10;
/** What one reader may be handed before another has its turn, if it does not come too far ahead of the others before. */
const LONGEST_TURN = 2_000;

/** A day of the feed as it lies in a log that nobody has read yet, each record with the time it came. */
function backlog(partitions: number): { broker: MemoryBroker; sources: { topic: string; partition: number }[]; arrivals: LogRecord[] } {
  const counts = partitionsOf({ "axle-readings": partitions, "site-reports": Math.ceil(partitions / 4), passes: 1 });
  let nowMs = feed[0]!.atMs;
  const broker = new MemoryBroker({ partitions: counts, now: () => nowMs });
  const sources = INBOUND.flatMap((topic) => Array.from({ length: counts.get(topic)! }, (_, partition) => ({ topic, partition })));
  const arrivals: LogRecord[] = [];
  const put = (records: NewRecord[]) => {
    const placed = broker.place(records);
    broker.put(placed);
    arrivals.push(...placed);
  };
  let tickMs = nowMs;
  const tickTo = (ms: number) => {
    for (; tickMs <= ms; tickMs += TICK_EVERY_MS) {
      nowMs = tickMs;
      put(ticks(sources, tickMs));
    }
  };
  for (const { topic, key, json, atMs } of feed) {
    tickTo(atMs);
    nowMs = Math.max(nowMs, atMs);
    put([{ topic, key, value: json }]);
  }
  tickTo(nowMs + AFTER_MS);
  return { broker, sources, arrivals };
}

/** The plain run: every record in the order in which it came. */
function plainRun(arrivals: readonly LogRecord[]): Warning[] {
  const folded = emptyFolded();
  const flow = new RailroadFlow(railroad, rules, sinkInto(folded));
  for (const { topic, partition, offset, value, arrivedMs } of arrivals) {
    const { record } = decode(topic, value, { topic, partition, offset });
    if (record !== undefined) flow.step(record, topic, partition, offset, arrivedMs);
  }
  flow.finish();
  return folded.warnings;
}

/** Both stages, the partitions overtaking each other in an order drawn from the seed. */
function overtaken({ broker, sources }: ReturnType<typeof backlog>, seed: number): Warning[] {
  const random = new Random(seed, "order");
  const passes = new MemoryBroker({ partitions: new Map([["passes", 1]]), now: () => 0 });
  const readers = sources.map(({ topic, partition }) => ({
    fold: new AssembleStage(railroad, { topic, partition }, "arrival"),
    records: broker.topic(topic, partition),
    at: 0,
  }));
  let left = readers;
  while (left.length > 0) {
    const reader = left[random.below(left.length)]!;
    const limitMs = Math.min(...left.map(({ records, at }) => records[at]!.arrivedMs)) + AHEAD_MS;
    for (let turn = random.below(LONGEST_TURN); turn >= 0 && (reader.records[reader.at]?.arrivedMs ?? Infinity) <= limitMs; turn--) {
      reader.fold.step(reader.records[reader.at++]!, {
        put: (record) => void (record.topic === "passes" && passes.put(passes.place([{ ...record, partition: 0 }]))),
      });
    }
    left = left.filter(({ at, records }) => at < records.length);
  }
  const warnings: Warning[] = [];
  const follow = new FollowStage(railroad, rules, 0);
  for (const record of passes.topic("passes", 0)) {
    follow.step(record, { put: ({ topic, value }) => void (topic === "warnings" && warnings.push(JSON.parse(String(value)) as Warning)) });
  }
  return warnings;
}

describe("a backlog of a day", { timeout: 600_000 }, () => {
  for (const partitions of [4, 12]) {
    it(`read from ${partitions} partitions ${RUNS} times ends as a plain run over it ends`, () => {
      const log = backlog(partitions);
      const plain = plainRun(log.arrivals);
      const ended = standing(plain);
      expect(ended.length).toBeGreaterThan(10);
      const corrections: number[] = [];
      for (let seed = 1; seed <= RUNS; seed++) {
        const warnings = overtaken(log, seed);
        const known = new Set(ended);
        const now = standing(warnings);
        expect(now.filter((one) => !known.has(one)).slice(0, 1), `order ${seed}`).toEqual([]);
        expect(now.length, `order ${seed}`).toBe(ended.length);
        corrections.push(warnings.filter(({ correction }) => correction).length);
      }
      console.info(
        `${partitions} partitions: ${ended.length} warnings each time; corrections ${corrections.join(", ")} ` +
          `(plain: ${plain.filter(({ correction }) => correction).length} of ${plain.length} versions)`,
      );
      // Or it would prove nothing: they did overtake each other.
      expect(Math.max(...corrections)).toBeGreaterThan(plain.filter(({ correction }) => correction).length);
    });
  }
});
