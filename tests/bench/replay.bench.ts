import { spawnSync } from "node:child_process";
import { availableParallelism } from "node:os";
import { fileURLToPath } from "node:url";
import { loadLine } from "../../src/line/line-file.ts";
import { replay } from "../../src/replay/replay.ts";
import { loadRules } from "../../src/warning/rules.ts";
import { lineOfDay, makeDay } from "./day.ts";
import type { BenchFigure } from "./figure.ts";
import { splitAndParse } from "./split-and-parse.ts";

/**
 * A generated day through the whole engine, from the bytes of the file to the day's account, against bare line splitting
 * and JSON.parse of the same bytes in the same run; then the memory of a process of its own, for a day and for ten.
 */

const AXLES = 2_000_000;
const ROUNDS = 3;
const RULES = "replay-data/rules/standard";
const SEED = 1;

export async function replayBench(): Promise<BenchFigure[]> {
  return [await speed(32), await speed(1), memory()];
}

async function speed(group: number): Promise<BenchFigure> {
  const path = makeDay({ axles: AXLES, group, seed: SEED });
  let base = Number.POSITIVE_INFINITY;
  let ours = Number.POSITIVE_INFINITY;
  let cpu = Number.POSITIVE_INFINITY;
  let axles = 0;
  // Turn and turn about, and the best of each: the machine may be shared.
  for (let round = 0; round < ROUNDS; round++) {
    base = Math.min(base, await seconds(() => splitAndParse(path)));
    const before = process.cpuUsage();
    ours = Math.min(
      ours,
      await seconds(async () => {
        axles = await replayed(path);
      }),
    );
    const used = process.cpuUsage(before);
    cpu = Math.min(cpu, (used.user + used.system) / 1e6);
  }
  return {
    name: `replay, groups of ${group}`,
    ours: axles / ours,
    base: axles / base,
    ratio: base / ours,
    unit: "axles/s",
    note: `${axles} axles from the file's bytes to the day's account, against line splitting + JSON.parse of the same bytes; ${cpu.toFixed(1)} CPU s on ${availableParallelism()} cores`,
  };
}

async function replayed(path: string): Promise<number> {
  const { railroad } = loadLine(lineOfDay(path));
  const { rules } = loadRules(RULES);
  if (railroad === null || rules === null) throw new Error("the line file or the rules of the bench have mistakes");
  const day = await replay({ railroad, rules, feeds: [path] });
  return day.axles;
}

async function seconds(run: () => unknown): Promise<number> {
  const from = performance.now();
  await run();
  return (performance.now() - from) / 1_000;
}

function memory(): BenchFigure {
  const [day, tenDays] = [AXLES, 10 * AXLES].map((axles) => {
    const child = spawnSync(
      process.execPath,
      [...process.execArgv, fileURLToPath(import.meta.url), makeDay({ axles, group: 32, seed: SEED })],
      {
        encoding: "utf8",
        // As the command starts it, see src/bearing-rise.js.
        env: {
          ...process.env,
          MALLOC_ARENA_MAX: "1",
          MALLOC_TRIM_THRESHOLD_: "131072",
          NODE_COMPILE_CACHE: "node_modules/.cache/bearing-rise",
        },
      },
    );
    if (child.status !== 0) throw new Error(child.stderr);
    return Number(child.stdout);
  }) as [number, number];
  return {
    name: "replay, peak memory of ten days against one",
    ours: tenDays,
    base: day,
    ratio: tenDays / day,
    unit: "MB resident",
    note: `a process of its own, ${AXLES} and ${10 * AXLES} axles in groups of 32`,
  };
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  await replayed(process.argv[2] as string);
  console.log(Math.round(process.resourceUsage().maxRSS / 1_024));
}
