import { align } from "../../src/journey/align.ts";
import { alignLattice } from "../../src/journey/lattice.ts";
import { indexSpacings } from "../../src/journey/probe.ts";
import { RESIDUAL_SD_INCHES, SpacingScore } from "../../src/journey/spacing-score.ts";
import { Dice, mixedTrain, see } from "../journey/train.ts";
import type { BenchFigure } from "./figure.ts";

/** Aligning a pass with its train, against a whole affine lattice over the same two patterns in the same run. */

const CARS = 216;
const ROUNDS = 30;
/** As wide as the lattice's limit of cells allows for such trains. */
const WIDE = { low: -800, high: 800 };
const HERE = { site: "s0", direction: "rising" as const, hour: 1 };
const THERE = { site: "s1", direction: "rising" as const, hour: 1.4, scale: 1.01 };

export async function alignBench(): Promise<BenchFigure[]> {
  const dice = new Dice(11);
  const train = mixedTrain(dice, CARS);
  const fresh = mixedTrain(dice, 20).slice(5);
  const edited = [...train.slice(0, 50), ...train.slice(63, 150), ...fresh, ...train.slice(150)];
  const first = see(dice, train, HERE).pass.gapInches;
  const alike = see(dice, train, THERE).pass.gapInches;
  const changed = see(dice, edited, { ...THERE, missed: [40, 700], doubled: [300] }).pass.gapInches;
  return [
    figure(`align, ${first.length} axles, nothing changed`, first, alike),
    figure(`align, ${first.length} to ${changed.length} axles, set out, picked up, miscounted`, first, changed),
  ];
}

function figure(name: string, reference: Float32Array, gaps: Float32Array): BenchFigure {
  const index = indexSpacings(reference);
  const spacing = new SpacingScore();
  const positions = reference.length - 1;
  const rows = gaps.length - 1;
  const ours = best(() => {
    if (align(reference, gaps, index) === null) throw new Error("the same train was not found again");
  });
  const base = best(() => {
    const scoring = spacing.over(reference, gaps, 0, 0, 1.01, RESIDUAL_SD_INCHES * RESIDUAL_SD_INCHES);
    alignLattice(positions, rows, scoring, WIDE, false);
  });
  return {
    name,
    ours,
    base,
    ratio: base / ours,
    unit: "ms",
    note: "against an affine-gap lattice 800 axles wide either way over the same patterns",
  };
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
