import { availableParallelism } from "node:os";
import { Worker } from "node:worker_threads";
import type { RunOutcome } from "./outcome.ts";
import type { Run } from "./plan.ts";
import { measureRun } from "./run.ts";

/** The goal is stated for two cores. */
const MOST_WORKERS = 2;

type Answer = { index: number; share?: number; outcome?: RunOutcome; ready?: true };

/**
 * Measures runs on two cores; the outcomes come back in the order of the runs, so the table does not depend on who was
 * faster. `progress` is told the share of all runs that is done.
 */
export async function measureAll(runs: readonly Run[], progress: (share: number) => void): Promise<RunOutcome[]> {
  const workers = Math.min(MOST_WORKERS, availableParallelism(), runs.length);
  if (workers <= 1) return runs.map((run, at) => measureRun(run, { progress: (share) => progress((at + share) / runs.length) }));
  const outcomes: RunOutcome[] = new Array(runs.length);
  const shares = new Float64Array(runs.length);
  let next = 0;
  const work = (): Promise<void> =>
    new Promise((resolve, reject) => {
      const worker = new Worker(new URL("./worker.ts", import.meta.url));
      const give = (): void => {
        if (next >= runs.length) worker.postMessage(null);
        else {
          const index = next++;
          worker.postMessage({ index, run: runs[index]! });
        }
      };
      worker.on("message", ({ index, share, outcome, ready }: Answer) => {
        if (ready === true) return give();
        shares[index] = share ?? 1;
        progress(shares.reduce((sum, one) => sum + one, 0) / runs.length);
        if (outcome === undefined) return;
        outcomes[index] = outcome;
        give();
      });
      worker.on("error", reject);
      worker.on("exit", () => resolve());
    });
  await Promise.all(Array.from({ length: workers }, work));
  return outcomes;
}
