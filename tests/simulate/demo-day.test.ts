import { createHash } from "node:crypto";
import { readFileSync, statSync } from "node:fs";
import { zstdDecompressSync } from "node:zlib";
import { expect, test } from "vitest";
import { lineOf } from "../../src/simulate/feed-text.ts";
import { loadScenario } from "../../src/simulate/scenario.ts";
import { ofScenario, simulate } from "../../src/simulate/simulate.ts";
import type { BearingTruth, PassTruth, SiteTruth, TrainTruth, Truth } from "../../src/simulate/truth.ts";
import { demoRailroad, replayData } from "./line.ts";

/** Told apart by what the files say, not by their packed bytes: another zstd may pack the same day otherwise. */
function hashOf(lines: Iterable<string>): string {
  const hash = createHash("sha256");
  for (const line of lines) hash.update(line).update("\n");
  return hash.digest("hex");
}

function shipped(name: string): string[] {
  return zstdDecompressSync(readFileSync(`${replayData}${name}`))
    .toString("utf8")
    .trimEnd()
    .split("\n");
}

const truth = shipped("day.truth.jsonl.zst").map((line) => JSON.parse(line) as Truth);
const trains = truth.filter((item): item is TrainTruth => item.type === "train");
const passes = truth.filter((item): item is PassTruth => item.type === "pass");
const bearings = truth.filter((item): item is BearingTruth => item.type === "bearing");
const sites = truth.filter((item): item is SiteTruth => item.type === "site");

test("the recorded day is the one that its scenario makes: if this fails, run `node src/simulate/demo-day.ts`", () => {
  const { scenario } = loadScenario(`${replayData}scenario.yaml`);
  if (scenario === null) throw new Error("the scenario has mistakes");
  const made: string[] = [];
  const lines = (function* () {
    for (const text of simulate({ ...ofScenario(demoRailroad(), scenario), tell: (item) => made.push(JSON.stringify(item)) }))
      yield lineOf(text);
  })();
  expect(hashOf(lines)).toBe(hashOf(shipped("day.jsonl.zst")));
  expect(hashOf(made)).toBe(hashOf(shipped("day.truth.jsonl.zst")));
});

test("it is small enough to ship and big enough to show", () => {
  expect(statSync(`${replayData}day.jsonl.zst`).size + statSync(`${replayData}day.truth.jsonl.zst`).size).toBeLessThan(10e6);
  expect(trains.length).toBeGreaterThanOrEqual(60);
  expect(passes.length).toBeGreaterThan(500);
});

test("it has a slow, a medium and a fast bearing that reach the limit, a warm runner, a roll-over and a plateau", () => {
  const of = (train: string) => bearings.filter((bearing) => bearing.train === train && bearing.kind !== "warm");
  for (const [train, kind] of [
    ["slow-bearing", "slow"],
    ["medium-bearing", "medium"],
    ["fast-bearing", "fast"],
  ] as const) {
    expect(of(train).map((bearing) => [bearing.class, bearing.crossing !== null])).toEqual([[kind, true]]);
  }
  expect(of("roll-over").map((bearing) => bearing.kind)).toEqual(["roll-over"]);
  expect(of("plateau").map((bearing) => bearing.kind)).toEqual(["plateau"]);
  expect(bearings.some((bearing) => bearing.train === "warm-runner" && bearing.kind === "warm")).toBe(true);
});

test("it has hot wheels, cars left and taken, a train on a wye and one run around, and look-alikes in one order", () => {
  expect(truth.filter((item) => item.type === "brakes").map((item) => item.train)).toEqual(
    expect.arrayContaining(["hot-wheels", "hot-wheel-one-axle"]),
  );
  const eventsOf = (train: string) => trains.find((item) => item.train === train)?.events.map((event) => event.kind);
  expect(eventsOf("way-freight")).toEqual(["set-out", "pick-up", "set-out"]);
  expect(eventsOf("wye-turned")).toContain("turned");
  expect(passes.some((pass) => pass.train === "branch-local" && pass.flipped)).toBe(true);
  expect(passes.some((pass) => pass.train === "wye-turned" && pass.flipped)).toBe(false);
  const at = (train: string) => passes.filter((pass) => pass.train === train).map((pass) => Date.parse(pass.begun));
  const [first, second] = [at("look-alike-one"), at("look-alike-two")];
  expect(first.length).toBe(second.length);
  first.forEach((begun, index) => {
    expect((second[index] as number) > begun).toBe(true);
  });
});

test("it has a sick scanner, a cold one, a dead site, a swapped direction, a wrong clock, a late pass and records that cannot be read", () => {
  const kinds = new Set(sites.flatMap((site) => site.faults.map((fault) => fault.kind)));
  for (const kind of ["bias", "cold", "dead", "direction", "clock", "miscount", "late"]) expect(kinds.has(kind)).toBe(true);
  for (const mark of ["direction-swapped", "late", "clock", "cold-right"])
    expect(passes.some((pass) => pass.marks.includes(mark))).toBe(true);
  expect(truth.filter((item) => item.type === "record").length).toBe(6);
  expect(trains.flatMap((train) => train.events).some((event) => event.kind === "unheard")).toBe(true);
});
