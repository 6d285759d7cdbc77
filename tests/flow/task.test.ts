import { describe, expect, it } from "vitest";
import { wallClock } from "../../src/flow/clock.ts";
import { Pace } from "../../src/flow/pace.ts";
import type { StageFold } from "../../src/flow/stage-fold.ts";
import { Task } from "../../src/flow/task.ts";
import type { Batch, LogRecord, Source } from "../../src/log/log.ts";
import { MemoryBroker } from "../../src/log/memory.ts";
import { silentLogger } from "../../src/telemetry/logger.ts";
import { createMetrics } from "../../src/telemetry/metrics.ts";
import { waitFor } from "../log/contract.ts";

const SOURCE: Source = { stage: "fold", topic: "in", partition: 0 };
const going = new AbortController().signal;

/** Hands each record on as it is. */
function copying(): StageFold {
  return {
    lastEventMs: Number.NaN,
    lastTickMs: Number.NaN,
    pacedMs: Number.NaN,
    step: ({ offset }, out) => {
      out.put({ topic: "out", key: "k", value: String(offset) }, true);
      return "used";
    },
    refoldFrom: (position) => position,
  };
}

/** A task over ten records whose batches the test hands over itself. */
async function bench() {
  const broker = new MemoryBroker({
    partitions: new Map([
      ["in", 1],
      ["out", 1],
    ]),
  });
  const log = broker.connect();
  await log.append(Array.from({ length: 10 }, (_, at) => ({ topic: "in", key: "k", value: String(at) })));
  const resumed: number[] = [];
  const task = new Task({
    source: SOURCE,
    log,
    make: copying,
    clock: wallClock,
    metrics: createMetrics({ version: "test", nodeDefaults: false }).stage("fold", "in", 0),
    logger: silentLogger(),
    pace: new Pace(),
    pause: () => {},
    resume: (from) => resumed.push(from),
    failed: () => {},
  });
  const from = await task.take(going);
  const hand = (records: LogRecord[], reach: Pick<Batch, "from" | "through">) =>
    task.records({ records, end: 10, ...reach, heartbeat: async () => {}, stale: false }, going);
  const inLog = (first: number, end: number) => broker.topic("in", 0).slice(first, end);
  const said = () => broker.topic("out", 0).map(({ value }) => Number(Buffer.from(value).toString()));
  return { task, from, hand, inLog, said, resumed, position: () => broker.standing(SOURCE).position };
}

describe("a task that is handed records", () => {
  it("folds nothing over a gap: it begins again where it stands, and nothing is missing in the end", async () => {
    const { task, from, hand, inLog, said, resumed, position } = await bench();
    expect(from).toBe(0);
    await hand(inLog(0, 3), { from: 0, through: 3 });
    await waitFor(() => position() === 3, 5_000);
    await hand(inLog(6, 10), { from: 6, through: 10 });
    expect(task.state).toBe("broken");
    await waitFor(() => resumed.length === 1, 5_000);
    expect(resumed).toEqual([3]);
    await hand(inLog(3, 10), { from: 3, through: 10 });
    await waitFor(() => position() === 10, 5_000);
    expect(said()).toEqual([0, 1, 2, 3, 4, 5, 6, 7, 8, 9]);
  });

  it("takes it for no gap where the log counts marks of its own, or handed the same before", async () => {
    const { task, hand, inLog, said, position } = await bench();
    await hand(inLog(0, 3), { from: 0, through: 5 });
    await hand(inLog(5, 7), { from: 5, through: 7 });
    await hand(inLog(6, 7), { from: 6, through: 7 });
    await hand(inLog(7, 10), { from: 7, through: 10 });
    await waitFor(() => position() === 10, 5_000);
    expect(task.state).toBe("running");
    expect(said()).toEqual([0, 1, 2, 5, 6, 7, 8, 9]);
  });
});
