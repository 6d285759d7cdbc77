import { Biases } from "../../src/bearing/biases.ts";
import { level } from "../../src/bearing/level.ts";
import { outlook } from "../../src/bearing/outlook.ts";
import { SCREENED_MAX, screen } from "../../src/bearing/screen.ts";
import { readingOf } from "../bearing/curves.ts";
import { journeyOf, legOf, passOf } from "../bearing/passes.ts";
import type { BenchFigure } from "./figure.ts";

const AXLES = 600;
const BEARINGS = 2 * AXLES;
const ROUNDS = 5;
const NS_PER_MS = 1e6;

/** Levelling, screening and the outlook, each against something everyone knows the cost of. */
export async function bearingBench(): Promise<BenchFigure[]> {
  const pass = passOf({ axles: AXLES, locomotives: 3 });
  const biases = new Biases();
  const journey = journeyOf([legOf(pass, 0), legOf(passOf({ axles: AXLES, locomotives: 3, seed: 2 }), 15)]);
  const screened = new Int32Array(SCREENED_MAX);
  const track = [8, 5, 11, 9, 21, 33, 49, 70].map((excessF, i) => readingOf(i * 15, 45, excessF, 28, 6));
  const steady = [8, 5, 11, 9, 12, 7, 10, 9].map((excessF, i) => readingOf(i * 15, 45, excessF, 28, 6));
  const ahead = [
    { site: "next", miles: 14 },
    { site: "next but one", miles: 29 },
  ];
  const record = JSON.stringify(recordOf32Axles());
  const levelling = best(400, () => level(pass, biases)) / BEARINGS;
  const sorting = best(400, () => sortedMedians(pass.bearingRiseF)) / BEARINGS;
  const screening = best(2000, () => screen(journey, 1, screened)) / BEARINGS;
  const summing = best(2000, () => sum(pass.bearingRiseF)) / BEARINGS;
  const looking = best(1000, () => outlook(track, 142, ahead));
  const lookingOn = best(1000, () => outlook(steady, 142, ahead));
  const parsing = best(4000, () => JSON.parse(record));
  return [
    figure("levelling a bearing", levelling, sorting, "ns", "against sorting each rail twice for median and deviation"),
    figure("screening a bearing", screening, summing, "ns", "against adding up its readings"),
    figure("one outlook over eight readings", looking / 1000, parsing / 1000, "µs", "against JSON.parse of a record of 32 axles"),
    figure("one outlook over eight that do not rise", lookingOn / 1000, parsing / 1000, "µs", "against the same"),
  ];
}

function figure(name: string, ours: number, base: number, unit: string, note: string): BenchFigure {
  return { name, ours, base, ratio: ours / base, unit, note };
}

/** Nanoseconds a call, the best of five rounds after one to warm up. */
function best(calls: number, work: () => unknown): number {
  let least = Infinity;
  for (let round = 0; round <= ROUNDS; round++) {
    const began = performance.now();
    for (let i = 0; i < calls; i++) work();
    if (round > 0) least = Math.min(least, ((performance.now() - began) * NS_PER_MS) / calls);
  }
  return least;
}

function sortedMedians(rises: readonly Float32Array[]): number {
  let total = 0;
  for (const rise of rises) {
    const sorted = rise.slice().sort();
    const middle = sorted[sorted.length >> 1]!;
    const deviations = rise.map((value) => Math.abs(value - middle)).sort();
    total += middle + deviations[deviations.length >> 1]!;
  }
  return total;
}

function sum(rises: readonly Float32Array[]): number {
  let total = 0;
  for (const rise of rises) for (let row = 0; row < rise.length; row++) total += rise[row]!;
  return total;
}

function recordOf32Axles() {
  const column = (from: number): number[] => Array.from({ length: 32 }, (_, i) => from + i / 10);
  const rail = { bearing: column(28), wheel: column(75) };
  return { type: "axles", site: "alder-14", track: "1", pass: "0117", first: 1, ms: column(0), gap: column(70), left: rail, right: rail };
}
