import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, afterEach, beforeAll, describe, expect, it } from "vitest";
import { openFeedWriter } from "../../src/feed/feed-writer.ts";
import type { Log, NewRecord } from "../../src/log/log.ts";
import { recordDay } from "../../src/replay/record-day.ts";
import { silentLogger } from "../../src/telemetry/logger.ts";
import { createMetrics } from "../../src/telemetry/metrics.ts";
import { webhookConfig } from "../../src/webhook/endpoint.ts";
import { startWebhooks } from "../../src/webhook/webhooks.ts";
import { type Broker, brokerKind, startBroker } from "../broker/broker.ts";
import { until } from "../feed/input/taken.ts";
import type { LogBed } from "../log/contract.ts";
import { kafkaBed } from "../log/kafka/bed.ts";
import { quickChance, Receiver, SECRET, warningRecord } from "./receiver.ts";

const found = await brokerKind();
const TOPICS = new Map([
  ["warnings", 1],
  ["axle-readings", 3],
  ["passes", 2],
]);

describe.skipIf("reason" in found)("what goes out of a real broker", () => {
  let broker: Broker;
  const logs: Log[] = [];
  beforeAll(async () => {
    broker = await startBroker();
  }, 120_000);
  afterEach(async () => {
    for (const log of logs.splice(0)) await log.close();
  });
  afterAll(() => broker.stop());

  const connect = async (bed: LogBed) => {
    const log = await bed.connect();
    logs.push(log);
    return log;
  };

  it("webhooks: a dead endpoint is told again from where it stopped, also by the next process", { timeout: 120_000 }, async () => {
    const bed = await kafkaBed(broker.brokers, TOPICS);
    const receiver = await new Receiver().listen();
    receiver.always = 503;
    const start = async () =>
      startWebhooks({
        config: [webhookConfig.parse({ name: "dispatch", url: receiver.url, secrets: ["env:HOOK"] })],
        log: await connect(bed),
        logger: silentLogger(),
        metrics: createMetrics({ version: "test", nodeDefaults: false }),
        chance: quickChance(),
        secrets: { env: { HOOK: SECRET }, readFile: () => "" },
      });
    const log = await connect(bed);
    const first = await start();
    await log.append(["a", "b", "c"].map((id) => warningRecord(id)));
    await until(() => receiver.received.length >= 4);
    expect(new Set(receiver.ids)).toEqual(new Set(["a/v1"]));
    receiver.always = null;
    await until(() => receiver.ids.includes("c/v1"));
    await first.close();
    await log.append([warningRecord("d")]);
    const told = receiver.received.length;
    const second = await start();
    await until(() => receiver.ids.includes("d/v1"));
    expect(receiver.ids.slice(told)).toEqual(["d/v1"]);
    await second.close();
    await receiver.close();
  });

  it("a recorded stretch: committed records of every partition, and nothing of what was never committed", {
    timeout: 120_000,
  }, async () => {
    const bed = await kafkaBed(broker.brokers, TOPICS);
    const log = await connect(bed);
    const readings: NewRecord[] = Array.from({ length: 2_500 }, (_, i) => ({
      topic: "axle-readings",
      key: `site-${i % 7}/1`,
      value: JSON.stringify({ n: i }),
    }));
    for (let from = 0; from < readings.length; from += 500) await log.append(readings.slice(from, from + 500));
    // Commits leave marks of their own among the offsets; one more partition holds nothing but them.
    const claim = await log.claim({ stage: "assemble", topic: "axle-readings", partition: 0 });
    for (let position = 1; position <= 5; position++) {
      const outputs = [{ topic: "passes", key: "alder", partition: 0, value: JSON.stringify({ position }) }];
      await claim.commit({ position, refoldFrom: 0, outputs });
    }
    const folder = mkdtempSync(join(tmpdir(), "record-kafka-"));
    const writer = openFeedWriter(join(folder, "day.jsonl"));
    const day = await recordDay({
      log,
      fromMs: 0,
      toMs: Number.POSITIVE_INFINITY,
      writer,
      byArrival: true,
      topics: ["axle-readings", "passes"],
    });
    await writer.close();
    const lines = readFileSync(join(folder, "day.jsonl"), "utf8").split("\n").slice(0, -1);
    rmSync(folder, { recursive: true });
    const opened = lines.map((line) => JSON.parse(line) as { topic: string; partition: number; value: { n?: number; position?: number } });
    expect(day.lines).toBe(2_505);
    expect(opened.flatMap(({ value }) => value.n ?? []).sort((a, b) => a - b)).toEqual(Array.from({ length: 2_500 }, (_, i) => i));
    expect(opened.flatMap(({ value }) => value.position ?? [])).toEqual([1, 2, 3, 4, 5]);
  });
});
