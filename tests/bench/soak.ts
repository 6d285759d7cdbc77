// `node tests/bench/soak.ts [minutes] [axles a second]`: one process with both stages on a real broker, fed without a pause;
// prints its resident memory every minute, and at the end whether it stayed flat and under what is wanted.
import { setTimeout as sleep } from "node:timers/promises";
import { readFeed } from "../../src/feed/feed-file.ts";
import type { NewRecord } from "../../src/log/log.ts";
import { startBroker } from "../broker/broker.ts";
import { lineOfDay, makeDay } from "./day.ts";
import { BenchBed } from "./kafka/bench-bed.ts";

const GROUP = 32;
const SEED = 1;
const MOST_MB = 300;
/** Of the last tenth against the tenth after the warm-up; the collector's sawtooth is some 5 %. */
const MOST_GROWTH = 1.1;
const WARM_UP_SHARE = 0.1;
const TURN_MS = 50;
const MINUTE_MS = 60_000;

const [minutes = 60, rate = 3_000] = process.argv.slice(2).map(Number);
if (!(minutes >= 1 && rate >= 1)) {
  console.error("node tests/bench/soak.ts [minutes, 60] [axles a second, 3000]\nExample: node tests/bench/soak.ts 60 3000");
  process.exit(2);
}
process.exitCode = await soak(minutes, rate);

/** Days of simulated trains as quickly as that many axles a second take; 0 when memory was as wanted. */
async function soak(minutes: number, rate: number): Promise<number> {
  const path = makeDay({ axles: Math.ceil(minutes * 60 * rate), group: GROUP, seed: SEED });
  const broker = await startBroker({ own: true });
  const one = { "axle-readings": 1, "site-reports": 1, consists: 1, "desk-actions": 1, passes: 1 };
  const bed = await BenchBed.make(broker.brokers, lineOfDay(path), "feed", one);
  try {
    bed.start();
    const residentMb = await fedSteadily(bed, path, rate);
    return verdict(residentMb);
  } finally {
    await bed.close();
    await broker.stop();
  }
}

/** Resident megabytes, one for each minute. */
async function fedSteadily(bed: BenchBed, path: string, rate: number): Promise<number[]> {
  const residentMb: number[] = [];
  const beganMs = performance.now();
  let axles = 0;
  let waiting: NewRecord[] = [];
  for await (const batch of readFeed(path)) {
    for (const { topic, key, value } of batch) {
      waiting.push({ topic, key, value: JSON.stringify(value) });
      const { type, ms } = value as { type?: string; ms?: unknown[] };
      if (type === "axles" && Array.isArray(ms)) axles += ms.length;
      const aheadMs = (axles / rate) * 1_000 - (performance.now() - beganMs);
      if (aheadMs < TURN_MS) continue;
      await bed.log.append(waiting);
      waiting = [];
      await sleep(aheadMs);
      if (performance.now() - beganMs < (residentMb.length + 1) * MINUTE_MS) continue;
      const usage = bed.usage();
      residentMb.push(usage.residentMb);
      console.log(
        `${String(residentMb.length).padStart(4)} min  ${usage.residentMb.toFixed(0).padStart(4)} MB  ${axles} axles  ${usage.cpuSeconds.toFixed(0)} s of CPU`,
      );
    }
  }
  await bed.log.append(waiting);
  return residentMb;
}

function verdict(residentMb: readonly number[]): number {
  const tenth = Math.max(1, Math.floor(residentMb.length / 10));
  const from = Math.floor(residentMb.length * WARM_UP_SHARE);
  const first = mean(residentMb.slice(from, from + tenth));
  const last = mean(residentMb.slice(-tenth));
  const most = Math.max(...residentMb);
  const isWell = most <= MOST_MB && last <= first * MOST_GROWTH;
  console.log(
    `resident after the warm-up ${first.toFixed(0)} MB, at the end ${last.toFixed(0)} MB, at most ${most.toFixed(0)} MB: ${isWell ? "as wanted" : "NOT as wanted"} (at most ${MOST_MB} MB, growing by less than ${Math.round((MOST_GROWTH - 1) * 100)} %)`,
  );
  return isWell ? 0 : 1;
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
