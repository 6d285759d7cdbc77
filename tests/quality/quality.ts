// `npm run quality`: how early the engine warns and what it costs, beside every published rule, on simulated days whose truth
// is known. See --help.
import { writeFileSync } from "node:fs";
import { Command, InvalidArgumentError } from "commander";
import type { WorldName } from "../../src/simulate/worlds.ts";
import { explain, type Wanted } from "./explain.ts";
import { goalsText } from "./goals.ts";
import { measureAll } from "./measure.ts";
import type { RunOutcome } from "./outcome.ts";
import { qualityPage } from "./page/page.ts";
import { isForReporting, REPORTING_SEEDS, type Run, runsOf, WORLD_NAMES } from "./plan.ts";
import { tableText } from "./table-text.ts";
import { reportOf, type WorldReport } from "./world-report.ts";

interface Options {
  world: readonly WorldName[];
  seeds?: { from: number; to: number };
  hours?: number;
  small?: boolean;
  json?: string;
  page?: string;
  explain?: Wanted;
}

const command = new Command("quality")
  .description("Measures the decision on simulated days with known truth, beside the published rules.")
  .option("--world <name>", `${WORLD_NAMES.join(", ")} or all`, worlds, WORLD_NAMES)
  .option("--seeds <a..b>", `seeds, e.g. 1001..1004; from ${REPORTING_SEEDS.from} on they are for reporting, below for fitting`, seeds)
  .option("--hours <number>", "event time of each seed", hours)
  .option("--small", "a short measurement, as the build makes it")
  .option("--json <file>", "writes the table as JSON")
  .option("--page <file>", "writes the table and its pictures as a page")
  .option("--explain <bearing>", "tells the story of one bearing instead: the n-th developing one of the runs, or train/axle/side", bearing)
  .addHelpText(
    "after",
    "\nExamples:\n  npm run quality -- --world winter --seeds 1001..1003\n  npm run quality -- --world winter --explain 17\n",
  )
  .parse();

let shownPercent = -1;

async function main(options: Options): Promise<void> {
  const runs = runsOf({ worlds: options.world, seeds: options.seeds ?? null, hours: options.hours ?? null, small: options.small === true });
  if (options.explain !== undefined) return tell(runs, options.explain);
  const outcomes = await measureAll(runs, showProgress);
  process.stderr.write("\n");
  const reports = byWorld(runs, outcomes);
  console.log(tableText(reports));
  console.log(`\n${goalsText(reports)}`);
  if (!isForReporting(runs)) console.log("\nSome of these seeds are open to fitting: this is no table to show.");
  if (options.json !== undefined) writeFileSync(options.json, `${JSON.stringify(reports, rounded)}\n`);
  if (options.page !== undefined) writeFileSync(options.page, qualityPage(reports, new Date().toISOString().slice(0, 10)));
}

/** Four digits behind the point are more than any interval here; what is not finite becomes null. */
function rounded(_: string, value: unknown): unknown {
  return typeof value === "number" ? Math.round(value * 10_000) / 10_000 : value;
}

function tell(runs: readonly Run[], wanted: Wanted): void {
  const story = explain(runs, wanted);
  if (story === null) {
    console.error("No such bearing in these runs: another world or other seeds?");
    process.exitCode = 1;
  } else console.log(story);
}

function byWorld(runs: readonly Run[], outcomes: readonly RunOutcome[]): WorldReport[] {
  const names = WORLD_NAMES.filter((name) => runs.some((run) => run.world === name));
  return names.map((name) => reportOf(outcomes.filter((one) => one.world === name)));
}

function showProgress(share: number): void {
  const percent = Math.floor(share * 100);
  if (process.stderr.isTTY) process.stderr.write(`\r${String(percent).padStart(3)} %`);
  else if (Math.floor(percent / 10) > Math.floor(shownPercent / 10)) process.stderr.write(`${percent} %\n`);
  else return;
  shownPercent = percent;
}

function worlds(value: string): readonly WorldName[] {
  if (value === "all") return WORLD_NAMES;
  const name = WORLD_NAMES.find((one) => one === value);
  if (name === undefined) throw new InvalidArgumentError(`one of ${WORLD_NAMES.join(", ")}, all`);
  return [name];
}

function seeds(value: string): { from: number; to: number } {
  const match = /^(\d+)(?:\.\.(\d+))?$/.exec(value);
  const from = Number(match?.[1]);
  const to = Number(match?.[2] ?? match?.[1]);
  if (match === null || to < from) throw new InvalidArgumentError("two numbers, the first not over the second, as in 1001..1004");
  return { from, to };
}

function bearing(value: string): Wanted {
  if (/^\d+$/.test(value) && Number(value) > 0) return Number(value);
  const match = /^(\w+)\/(\d+)\/([01])$/.exec(value);
  if (match === null) throw new InvalidArgumentError("a number from 1, or train/axle/side as in T00012/245/1");
  return { train: match[1]!, axle: Number(match[2]), side: Number(match[3]) as 0 | 1 };
}

function hours(value: string): number {
  const number = Number(value);
  if (!(number > 0 && number <= 24 * 31)) throw new InvalidArgumentError("more than 0, at most 744");
  return number;
}

await main(command.opts<Options>());
