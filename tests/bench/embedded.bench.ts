import { closeSync, fsyncSync, mkdtempSync, openSync, rmSync, writeSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { AssembleStage } from "../../src/flow/assemble-stage.ts";
import { wallClock } from "../../src/flow/clock.ts";
import { FollowStage } from "../../src/flow/follow-stage.ts";
import { startStage } from "../../src/flow/stage.ts";
import { startTicker } from "../../src/flow/ticker.ts";
import type { NewRecord } from "../../src/log/log.ts";
import { openSqliteLog } from "../../src/log/sqlite/sqlite-log.ts";
import { INBOUND, partitionsOf } from "../../src/log/topics.ts";
import { silentLogger } from "../../src/telemetry/logger.ts";
import { createMetrics } from "../../src/telemetry/metrics.ts";
import { demoRailroad, demoRules } from "../flow/folded.ts";
import type { BenchFigure } from "./figure.ts";

const PASSES = 60;
const AXLES = 120;
const HOT_ROW = 50;
/** Inches within a truck, between trucks, between cars; a train passes in two minutes of which one is over when it ends here. */
const CAR_GAPS = [70, 420, 70];
const MS_AN_INCH = 1.3;
const BEGAN_BEFORE_MS = 60_000;

/**
 * From the last axle's record acknowledged to the warning read, both stages and both commits on the disk in between,
 * against one small fsync on the same disk in the same run.
 */
export async function embeddedBench(): Promise<BenchFigure[]> {
  const folder = mkdtempSync(join(tmpdir(), "rise-bench-"));
  const log = await openSqliteLog({ folder, partitions: partitionsOf() });
  const parts = { log, clock: wallClock, metrics: createMetrics({ version: "bench", nodeDefaults: false }), logger: silentLogger() };
  const [railroad, rules] = [demoRailroad(), demoRules()];
  const ticker = await startTicker(log, wallClock, parts.metrics, parts.logger);
  await startStage({ ...parts, name: "assemble", topics: INBOUND, make: (source) => new AssembleStage(railroad, source, "arrival") });
  const make = ({ partition }: { partition: number }) => new FollowStage(railroad, rules, partition, "arrival");
  await startStage({ ...parts, name: "follow", topics: ["passes"], make });
  let told: () => void = () => {};
  await log.tail([{ topic: "warnings", partition: 0, offset: 0 }], { records: async () => told() });
  const latencies: number[] = [];
  const fsyncs: number[] = [];
  for (let at = 0; at < PASSES; at++) {
    const [first, last] = hotPass(at);
    await log.append(first);
    const warned = new Promise<void>((resolve) => (told = resolve));
    await log.append(last);
    const acknowledged = performance.now();
    await warned;
    latencies.push(performance.now() - acknowledged);
    fsyncs.push(oneFsync(folder));
  }
  await ticker.close();
  await log.close();
  rmSync(folder, { recursive: true, force: true });
  return [0.5, 0.99].map((share) => {
    const [ours, base] = [quantile(latencies, share), quantile(fsyncs, share)];
    const note = "embedded log, idle otherwise; base: 4 kB written and fsynced";
    return { name: `last axle acknowledged to warning read, p${share * 100}`, ours, base, ratio: ours / base, unit: "ms", note };
  });
}

/** A pass with one bearing at the limit: all but the last axles, and the record that completes it. */
function hotPass(number: number): [NewRecord[], NewRecord[]] {
  const begunMs = Date.now() - BEGAN_BEFORE_MS;
  const track = String(1 + (number % 2));
  const place = { site: "alder-14", track, pass: String(1_000 + number) };
  const gap = Array.from({ length: AXLES }, (_, row) => (row === 0 ? null : (CAR_GAPS[(row - 1) % 4] ?? 90 + number)));
  const ms: number[] = [];
  for (const inches of gap) ms.push((ms.at(-1) ?? 0) + (inches ?? 0) * MS_AN_INCH);
  const rise = (hot: boolean) => gap.map((_, row) => (hot && row === HOT_ROW ? 190 : 20 + ((row * 7 + number) % 9)));
  const axles = (from: number, to: number) => ({
    ...{ type: "axles", ...place, first: from + 1, ms: ms.slice(from, to), gap: gap.slice(from, to) },
    left: { bearing: rise(false).slice(from, to) },
    right: { bearing: rise(true).slice(from, to) },
  });
  const begun = { type: "pass-begun", ...place, time: iso(begunMs), direction: "rising", ambient: 54 };
  const ended = { type: "pass-ended", ...place, time: iso(begunMs + Math.ceil(ms.at(-1)!)), axles: AXLES, integrity: [] };
  const record = (value: object): NewRecord => ({ topic: "axle-readings", key: `alder-14/${track}`, value: JSON.stringify(value) });
  return [[record(begun), record(axles(0, 60)), record(ended)], [record(axles(60, AXLES))]];
}

function oneFsync(folder: string): number {
  const file = openSync(join(folder, "yardstick"), "a");
  const began = performance.now();
  writeSync(file, Buffer.alloc(4_096));
  fsyncSync(file);
  closeSync(file);
  return performance.now() - began;
}

function quantile(values: readonly number[], share: number): number {
  return [...values].sort((a, b) => a - b)[Math.min(values.length - 1, Math.floor(values.length * share))]!;
}

function iso(ms: number): string {
  return new Date(ms).toISOString();
}
