import { appendFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { simulatedRun } from "./simulated-run.ts";

/** Seeds that once failed, each with what was wrong. */
export const KEPT_SEEDS: readonly number[] = [];

/** Run in CI, shared out over the test files. `SEEDS=20000 vitest run tests/simulation` looks further, `SEED=17` at one. */
const SEEDS = Number(process.env["SEEDS"] ?? 2_000);
const ONE = process.env["SEED"];
/** Where seeds that failed are written down; they then go into KEPT_SEEDS. */
const FAILED = process.env["FAILED_SEEDS"];
const MOST_FAILED = 5;

/** The seeds of one of `shares` test files, which run side by side. */
export function simulatedShare(share: number, shares: number): void {
  describe(`processes that die, freeze, leave and lose answers at any await (share ${share} of ${shares})`, () => {
    it("leave in the log exactly what a plain sequential run over it says", { timeout: 3_600_000 }, async () => {
      const failed: string[] = [];
      let faults = 0;
      let warnings = 0;
      for (const seed of seedsOf(share, shares)) {
        const run = await simulatedRun(seed);
        faults += run.faults.length;
        warnings += run.warnings;
        if (run.wrong === null) continue;
        failed.push(`seed ${seed} (${run.faults.join(", ")}): ${run.wrong}`);
        if (FAILED !== undefined) appendFileSync(FAILED, `${seed}\n`);
        if (failed.length >= MOST_FAILED) break;
      }
      expect(failed).toEqual([]);
      if (ONE !== undefined) return;
      // Or it would prove nothing.
      expect(warnings).toBeGreaterThan(SEEDS / shares);
      expect(faults).toBeGreaterThan(SEEDS / shares);
    });
  });
}

function seedsOf(share: number, shares: number): number[] {
  if (ONE !== undefined) return share === 1 ? [Number(ONE)] : [];
  const all = Array.from({ length: SEEDS }, (_, at) => at + 1).filter((seed) => seed % shares === share - 1);
  return share === 1 ? [...KEPT_SEEDS, ...all] : all;
}
