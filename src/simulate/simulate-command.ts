import { Command, InvalidArgumentError } from "commander";
import { CommandError, EXIT } from "../replay/exit-status.ts";
import { assumptionsPage, type Made, madeText, runSimulate, SimulationRefused } from "./run.ts";

interface Options {
  line?: string;
  out?: string;
  seed?: number;
  hours?: number;
  world?: string;
  scenario?: string;
  trainsPerDay?: number;
  group?: number;
  assumptions?: true;
  json?: true;
  quiet?: true;
}

/** `bearing-rise simulate`: trains, bearings and faults on a railroad, with the truth beside the feed. */
export function simulateCommand(): Command {
  return new Command("simulate")
    .description("Makes a feed of simulated trains, bearings and faults, with the truth beside it. The same seed gives the same bytes.")
    .option("--line <file>", "line file of the railroad (YAML)")
    .option("--out <dir>", "folder for feed.jsonl.zst and truth.jsonl")
    .option("--seed <n>", "seed, a whole number", wholeNumber)
    .option("--hours <h>", "hours of traffic", positive)
    .option("--world <name>", "ordinary, sparse, sick, winter or mixed")
    .option("--scenario <file>", "what has to happen, beside what happens by itself (YAML)")
    .option("--trains-per-day <n>", "trains a day", positive)
    .option("--group <n>", "axles a record at every site, 1 to 64", wholeNumber)
    .option("--assumptions", "print every assumption with its grade, and end")
    .option("--json", "print what was made as JSON, and no progress")
    .option("--quiet", "no progress")
    .addHelpText(
      "after",
      "\nExample:\n  bearing-rise simulate --line replay-data/line.yaml --seed 7 --hours 12 --world winter --out out/winter",
    )
    .action(run);
}

async function run(options: Options): Promise<void> {
  if (options.assumptions === true) {
    process.stdout.write(assumptionsPage());
    return;
  }
  const { line, out } = options;
  if (line === undefined || out === undefined) throw new CommandError(EXIT.usage, "simulate needs --line <file> and --out <dir>.");
  const isShown = options.json !== true && options.quiet !== true && process.stderr.isTTY;
  const progress = (share: number) => process.stderr.write(`\rsimulated ${Math.round(share * 100)} %`);
  const made = await simulated(options, line, out, isShown ? progress : undefined);
  if (isShown) process.stderr.write("\r\u001b[2K");
  process.stdout.write(options.json === true ? `${JSON.stringify(made)}\n` : madeText(made));
}

async function simulated(options: Options, line: string, out: string, progress: ((share: number) => void) | undefined): Promise<Made> {
  const { seed, hours, world, scenario, trainsPerDay, group } = options;
  try {
    return await runSimulate({ line, out, seed, hours, world, scenario, trainsPerDay, group, progress });
  } catch (error) {
    if (!(error instanceof SimulationRefused)) throw error;
    throw new CommandError(error.code === "SIM-010" ? EXIT.lineOrRules : EXIT.usage, error.message);
  }
}

function wholeNumber(text: string): number {
  if (!/^\d{1,15}$/.test(text)) throw new InvalidArgumentError("A whole number is wanted.");
  return Number(text);
}

function positive(text: string): number {
  const value = Number(text);
  if (!(value > 0)) throw new InvalidArgumentError("A number over 0 is wanted.");
  return value;
}
