import type { AxleReading } from "../../src/feed/record.ts";
import type { Pass } from "../../src/pass/pass.ts";
import { findVehicles } from "../../src/pass/vehicles.ts";
import { assembly, inGroups, inOrder, sent } from "../pass/records.ts";
import { buildTrain, overSite, seeded } from "../pass/train.ts";
import type { BenchFigure } from "./figure.ts";

const ROUNDS = 25;
const WARM_UP = 5;
const NS_PER_MS = 1e6;
const TRAINS = 40;
const CARS = 100;
const HOUR_MS = 3_600_000;

/** Assembling and vehicle finding against JSON.parse of the same records, nanoseconds an axle. */
export async function passBench(): Promise<BenchFigure[]> {
  const trains = Array.from({ length: TRAINS }, (_, k) => sent(k + 1, `${k}`, Date.UTC(2026, 2, 4) + k * HOUR_MS, CARS));
  const axles = trains.reduce((sum, train) => sum + train.ended.axles, 0);
  const figures = [32, 1].map((size) => {
    const records = trains.flatMap((train) => inOrder(inGroups(train, size)));
    const texts = records.map((record) => JSON.stringify(record));
    const ours = best(() => assemble(records)) / axles;
    const base = best(() => texts.map((text) => JSON.parse(text))) / axles;
    const words = size === 1 ? "one-axle records" : `groups of ${size}`;
    return figure(`an axle into its pass, ${words}`, ours, base, "vehicles included, against JSON.parse of the same records");
  });
  const sites = trains.map((_, k) => {
    const random = seeded(k + 1);
    return overSite(buildTrain(random, CARS), { scale: 1.01, noiseInches: 1, missed: 0.00025, doubled: 0.00025 }, random);
  });
  const rows = sites.reduce((sum, site) => sum + site.axles, 0);
  const texts = sites.map((site) => JSON.stringify(Array.from(site.gapInches)));
  const finding = best(() => sites.map((site) => findVehicles(site, null))) / rows;
  const parsing = best(() => texts.map((text) => JSON.parse(text))) / rows;
  return [...figures, figure("vehicles from spacings", finding, parsing, "per axle, against JSON.parse of the spacings alone")];
}

function figure(name: string, ours: number, base: number, note: string): BenchFigure {
  return { name, ours, base, ratio: ours / base, unit: "ns an axle", note };
}

function assemble(records: AxleReading[]): number {
  const to = assembly();
  const out: Pass[] = [];
  for (const record of records) to.step(record, out);
  return out.length;
}

/** Nanoseconds of one call, the best of several after some to warm up. */
function best(work: () => unknown): number {
  let least = Number.POSITIVE_INFINITY;
  for (let round = 0; round <= ROUNDS; round++) {
    const began = performance.now();
    work();
    if (round >= WARM_UP) least = Math.min(least, (performance.now() - began) * NS_PER_MS);
  }
  return least;
}
