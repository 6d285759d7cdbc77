import { Biases } from "../../src/bearing/biases.ts";
import { hypotenuse } from "../../src/bearing/hypotenuse.ts";
import { isStillLevel, level } from "../../src/bearing/level.ts";
import { SpacingScore } from "../../src/journey/spacing-score.ts";
import { sameJson } from "../../src/warning/version.ts";
import { passOf } from "../bearing/passes.ts";
import type { BenchFigure } from "./figure.ts";

const ROUNDS = 60;
const NS_PER_US = 1_000;

/** What the folds spare themselves without changing a byte of what is published: each against the plain way, turn and turn about. */
export async function foldBench(): Promise<BenchFigure[]> {
  return [levelsKept(), versionsCompared(), rowOfLattice(), hypotenuses()];
}

function levelsKept(): BenchFigure {
  const pass = passOf({ axles: 600, locomotives: 3 });
  const biases = new Biases();
  const levels = level(pass, biases);
  const note = "a pass of 600 axles taken back and placed again, against levelling it anew";
  return sideBySide(
    "levels kept of a pass placed again",
    20,
    () => isStillLevel(pass, levels, biases),
    () => level(pass, biases),
    note,
  );
}

function versionsCompared(): BenchFigure {
  const [one, other] = [warningLike(), warningLike()];
  const ordered = (value: unknown): unknown => {
    if (Array.isArray(value)) return value.map(ordered);
    if (typeof value !== "object" || value === null) return value;
    return Object.fromEntries(
      Object.entries(value)
        .sort(([a], [b]) => (a < b ? -1 : 1))
        .map(([key, inner]) => [key, ordered(inner)]),
    );
  };
  const written = () => JSON.stringify(ordered(one)) === JSON.stringify(ordered(other));
  return sideBySide("two versions of a warning compared", 20, () => sameJson(one, other), written, "against writing both out as JSON");
}

function warningLike(): object {
  const evidence = Array.from({ length: 10 }, (_, i) => ({
    miles: 15 * i,
    site: `site-${i}`,
    riseF: 60 + i,
    excessF: 20.5 + i,
    used: "used",
  }));
  return {
    id: "W-1",
    level: "watch",
    chances: { beforeNextSite: 0.2, beforeNextButOne: 0.4 },
    crossing: null,
    reasons: ["one", "two"],
    evidence,
  };
}

function rowOfLattice(): BenchFigure {
  const columns = 120;
  const spacings = Float32Array.from({ length: columns + 2 }, (_, i) => [70, 98, 70, 390][i % 4]! + (i % 7) / 4);
  const score = new SpacingScore().over(spacings, spacings, 0, 0, 1.004, 2);
  const column = () => new Float64Array(columns + 1);
  const worth = { steps: column(), freshes: column(), misses: column(), doubles: column() };
  const oneByOne = () => {
    for (let j = 1; j <= columns; j++) worth.steps[j] = score.step(40, j);
    for (let j = 1; j <= columns; j++) worth.freshes[j] = score.fresh(40, j);
    for (let j = 1; j <= columns; j++) worth.misses[j] = score.missed(40, j);
    for (let j = 2; j <= columns; j++) worth.doubles[j] = score.doubled(40, j);
  };
  const inOneGo = () => score.worthOfRow(40, 1, columns, worth);
  return sideBySide("a row of the aligner's lattice, 120 columns", 100, inOneGo, oneByOne, "in one go, against asking for each cell alone");
}

function hypotenuses(): BenchFigure {
  const parts = Float64Array.from({ length: 256 }, (_, i) => 3 + ((i * 37) % 101) / 7);
  // Two loops, not one that is given a function: calls that cannot be put in place would be most of what is measured.
  const ours = () => {
    let total = 0;
    for (let i = 1; i < parts.length; i++) total += hypotenuse(parts[i]!, parts[i - 1]!);
    return total;
  };
  const plain = () => {
    let total = 0;
    for (let i = 1; i < parts.length; i++) total += Math.hypot(parts[i]!, parts[i - 1]!);
    return total;
  };
  const note = "255 of them, against Math.hypot, of which it is the same to the last bit";
  return sideBySide("roots of sums of squares", 40, ours, plain, note);
}

/** Microseconds a call, the least of some rounds turn and turn about, after one to warm up. */
function sideBySide(name: string, calls: number, ours: () => unknown, base: () => unknown, note: string): BenchFigure {
  let [oursUs, baseUs] = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY];
  for (let round = 0; round <= ROUNDS; round++) {
    const [a, b] = [usOf(calls, ours), usOf(calls, base)];
    if (round === 0) continue;
    oursUs = Math.min(oursUs, a);
    baseUs = Math.min(baseUs, b);
  }
  return { name, ours: oursUs, base: baseUs, ratio: oursUs / baseUs, unit: "µs", note };
}

function usOf(calls: number, run: () => unknown): number {
  const from = process.hrtime.bigint();
  for (let i = 0; i < calls; i++) run();
  return Number(process.hrtime.bigint() - from) / NS_PER_US / calls;
}
