import { execFile } from "node:child_process";
import { setTimeout as sleep } from "node:timers/promises";
import { promisify } from "node:util";
import { readFeed } from "../../src/feed/feed-file.ts";
import { Cluster } from "../../src/log/kafka/cluster.ts";
import { positionsGroup } from "../../src/log/kafka/settings.ts";
import type { NewRecord } from "../../src/log/log.ts";
import { silentLogger } from "../../src/telemetry/logger.ts";
import { brokerKind, startBroker } from "../broker/broker.ts";
import { lineOfDay, makeDay } from "./day.ts";
import type { BenchFigure } from "./figure.ts";
import { BenchBed } from "./kafka/bench-bed.ts";
import { latencyAndRestarts } from "./kafka/latency.ts";

/**
 * On a real broker on this machine: how fast one process with both stages catches up on a backlog, exactly once, against a
 * kafkajs consumer that only parses the same records; then latency and restarts (`kafka/latency.ts`).
 */

/** Half a day of 48 sites: large enough that the start of the process, a second of CPU, is not what is measured. */
const DAYS = [
  { group: 32, axles: 1_000_000 },
  { group: 1, axles: 300_000 },
] as const;
const SEED = 1;
const PATIENCE_MS = 300_000;
const run = promisify(execFile);

export async function kafkaBench(): Promise<BenchFigure[]> {
  const found = await brokerKind();
  if ("reason" in found) return [];
  const broker = await startBroker();
  const figures: BenchFigure[] = [];
  try {
    for (const { group, axles } of DAYS) figures.push(...(await catchUp(broker.brokers, group, axles)));
    figures.push(...(await latencyAndRestarts(broker.brokers)));
  } finally {
    await broker.stop();
  }
  return figures;
}

async function catchUp(brokers: readonly string[], group: number, axles: number): Promise<BenchFigure[]> {
  const path = makeDay({ axles, group, seed: SEED });
  const one = { "axle-readings": 1, "site-reports": 1, consists: 1, "desk-actions": 1, passes: 1 };
  const bed = await BenchBed.make(brokers, lineOfDay(path), "feed", one);
  try {
    const records = await fill(bed, path);
    const topic = `${bed.config.topicPrefix}axle-readings`;
    const yardstick = [new URL("./kafka/parse-only.ts", import.meta.url).pathname, brokers[0]!, topic, String(records)];
    const { stdout } = await run(process.execPath, yardstick);
    const base = JSON.parse(stdout) as { seconds: number; cpuSeconds: number };
    bed.start();
    const seconds = await foldedAll(bed);
    const { cpuSeconds, mostResidentMb } = bed.usage();
    const name = group === 1 ? "one-axle records" : `groups of ${group}`;
    const note = `${axles} axles, exactly once, both stages in one process, resident ${Math.round(mostResidentMb)} MB at most`;
    return [
      {
        name: `Kafka, catching up, ${name}`,
        ours: axles / seconds,
        base: axles / base.seconds,
        ratio: base.seconds / seconds,
        unit: "axles/s",
        note: `${note}; against a kafkajs consumer that only parses`,
      },
      {
        name: `Kafka, CPU a million axles, ${name}`,
        ours: (cpuSeconds / axles) * 1e6,
        base: (base.cpuSeconds / axles) * 1e6,
        ratio: cpuSeconds / base.cpuSeconds,
        unit: "s",
        note: "start of the process included; against the same consumer",
      },
    ];
  } finally {
    await bed.close();
  }
}

/** The day into the topics; answers with how many records of axles there are. */
async function fill(bed: BenchBed, path: string): Promise<number> {
  let records = 0;
  let waiting: NewRecord[] = [];
  for await (const batch of readFeed(path)) {
    for (const { topic, key, value } of batch) {
      if (topic === "axle-readings") records++;
      waiting.push({ topic, key, value: JSON.stringify(value) });
    }
    if (waiting.length >= 5_000) {
      await bed.log.append(waiting);
      waiting = [];
    }
  }
  await bed.log.append(waiting);
  return records;
}

/** Seconds from the first committed position until both stages have committed everything. */
async function foldedAll(bed: BenchBed): Promise<number> {
  const cluster = new Cluster(bed.settings, silentLogger());
  const deadlineMs = performance.now() + PATIENCE_MS;
  const positionOf = async (stage: string, topic: string) => {
    const asked = { groupId: positionsGroup(bed.settings, stage), topics: [cluster.nameOf(topic)] };
    const [found] = await cluster.ask("a position", (admin) => admin.fetchOffsets(asked));
    return Number(found?.partitions[0]?.offset ?? -1);
  };
  const { end } = (await cluster.extent("axle-readings"))[0]!;
  let fromMs = 0;
  let assembled = false;
  let stoodAt = -1;
  let stoodSinceMs = 0;
  while (performance.now() < deadlineMs) {
    const nowMs = performance.now();
    const position = await positionOf("assemble", "axle-readings");
    if (position > 0 && fromMs === 0) fromMs = nowMs;
    assembled ||= position >= end;
    const followed = await positionOf("follow", "passes");
    if (followed !== stoodAt) stoodSinceMs = nowMs;
    stoodAt = followed;
    // `passes` ends in the markers of transactions: it is done when assembling is and its position stands.
    if (assembled && nowMs - stoodSinceMs > 2_500) {
      await cluster.close();
      return (stoodSinceMs - fromMs) / 1_000;
    }
    await sleep(50);
  }
  throw new Error("the backlog was not folded in time");
}
