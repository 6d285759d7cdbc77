import { Counter, Registry } from "prom-client";
import { createMetrics } from "../../src/telemetry/metrics.ts";
import type { BenchFigure } from "./figure.ts";

/** Counting a record, against a child of prom-client; and what a scrape of a large railroad costs. */

const COUNTS = 2_000_000;
const ROUNDS = 5;
const SITES = 60;
const PARTITIONS = 16;

export async function telemetryBench(): Promise<BenchFigure[]> {
  const metrics = createMetrics({ version: "bench", nodeDefaults: false });
  const { in: cell } = metrics.stage("assemble", "axle-readings", 0);
  const labelNames = ["stage", "topic", "partition"];
  const counter = new Counter({ name: "records_in_total", help: "As ours.", labelNames, registers: [new Registry()] });
  const child = counter.labels("assemble", "axle-readings", "0");
  const nanoseconds = (run: () => void) => (best(run) / COUNTS) * 1e6;
  const ours = nanoseconds(() => {
    for (let at = 0; at < COUNTS; at++) cell.add(1);
  });
  const base = nanoseconds(() => {
    for (let at = 0; at < COUNTS; at++) child.inc(1);
  });
  return [
    {
      name: "counting one record",
      ours,
      base,
      ratio: base / ours,
      unit: "ns",
      note: `against a labelled child of prom-client; ${await scrape()}`,
    },
  ];
}

async function scrape(): Promise<string> {
  const metrics = createMetrics({ version: "bench", nodeDefaults: false });
  for (let site = 0; site < SITES; site++) metrics.site(`site-${site}`).lastPassMs.set(site);
  for (let partition = 0; partition < PARTITIONS; partition++) metrics.stage("assemble", "axle-readings", partition).state("running");
  let leastMs = Number.POSITIVE_INFINITY;
  for (let round = 0; round < ROUNDS; round++) {
    const from = performance.now();
    await metrics.registry.metrics();
    leastMs = Math.min(leastMs, performance.now() - from);
  }
  return `a scrape with ${SITES} sites and ${PARTITIONS} tasks takes ${leastMs.toFixed(1)} ms`;
}

function best(run: () => void): number {
  let least = Number.POSITIVE_INFINITY;
  for (let round = 0; round < ROUNDS; round++) {
    const from = performance.now();
    run();
    least = Math.min(least, performance.now() - from);
  }
  return least;
}
