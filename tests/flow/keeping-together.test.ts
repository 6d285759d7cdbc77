import { afterEach, describe, expect, it } from "vitest";
import { wallClock } from "../../src/flow/clock.ts";
import { AHEAD_MS } from "../../src/flow/pace.ts";
import { type RunningStage, startStage } from "../../src/flow/stage.ts";
import type { StageFold } from "../../src/flow/stage-fold.ts";
import { MemoryBroker } from "../../src/log/memory.ts";
import { silentLogger } from "../../src/telemetry/logger.ts";
import { createMetrics } from "../../src/telemetry/metrics.ts";
import { waitFor } from "../log/contract.ts";

const PATIENCE_MS = 20_000;
let stage: RunningStage | null = null;
afterEach(async () => await stage?.close());

/** Folds records that hold nothing but a time. */
class Times implements StageFold {
  readonly lastEventMs = Number.NaN;
  readonly lastTickMs = Number.NaN;
  pacedMs = Number.NaN;
  private readonly folded: [number, number][];

  constructor(folded: [number, number][]) {
    this.folded = folded;
  }

  step({ partition, value }: { partition: number; value: Uint8Array }): "used" {
    this.pacedMs = Number(Buffer.from(value).toString());
    this.folded.push([partition, this.pacedMs]);
    return "used";
  }

  refoldFrom(position: number): number {
    return position;
  }
}

/** A backlog of partitions, each with records at these times, read by one process. */
async function read(partitions: readonly (readonly number[])[]): Promise<[number, number][]> {
  const broker = new MemoryBroker({ partitions: new Map([["in", partitions.length]]), batchRecords: 16 });
  for (const [partition, times] of partitions.entries())
    broker.put(broker.place(times.map((ms) => ({ topic: "in", key: "", value: `${ms}`, partition }))));
  const folded: [number, number][] = [];
  const parts = {
    log: broker.connect(),
    clock: wallClock,
    metrics: createMetrics({ version: "test", nodeDefaults: false }),
    logger: silentLogger(),
  };
  stage = await startStage({ ...parts, name: "fold", topics: ["in"], make: () => new Times(folded) });
  const isCommitted = (times: readonly number[], partition: number) =>
    broker.standing({ stage: "fold", topic: "in", partition }).position === times.length;
  await waitFor(() => partitions.every(isCommitted), PATIENCE_MS);
  return folded;
}

describe("a backlog read by one process", { timeout: 60_000 }, () => {
  it("is read with its partitions together in time, each record once", async () => {
    const steady = Array.from({ length: 600 }, (_, at) => at * 60_000);
    const folded = await read([steady, steady, steady]);
    expect(folded.length).toBe(1_800);
    const at = [0, 0, 0];
    let apartMs = 0;
    for (const [partition, ms] of folded) {
      at[partition] = ms;
      apartMs = Math.max(apartMs, ms - Math.min(...at));
    }
    // A batch more than the bound: time is looked at between batches.
    expect(apartMs).toBeLessThanOrEqual(AHEAD_MS + 16 * 60_000);
  });

  it("ends, although one partition comes to its end while it waits for another", async () => {
    const folded = await read([[0, 2 * AHEAD_MS], [0, 2 * AHEAD_MS, 4 * AHEAD_MS, 6 * AHEAD_MS], [9 * AHEAD_MS]]);
    expect(folded.length).toBe(7);
  });
});
