import { Command } from "commander";
import { compareDays } from "./compare.ts";
import { comparisonText } from "./compare-text.ts";
import type { Day } from "./day.ts";
import { CommandError, EXIT } from "./exit-status.ts";
import { Progress, type Standing } from "./progress.ts";
import { lineOf, rulesOf } from "./railroad-files.ts";
import { replay } from "./replay.ts";
import { assertUsable } from "./usable.ts";
import { countOf } from "./words.ts";

interface Options {
  line: string;
  rules: string[];
  json?: true;
  quiet?: true;
}

/** `bearing-rise compare`: one day under two rule sets, side by side. */
export function compareCommand(): Command {
  const collect = (path: string, before: string[] | undefined) => [...(before ?? []), path];
  return new Command("compare")
    .description(
      "Replays the same feeds under two rule sets: which warnings only one of them gives, which earlier and by how many miles, and what each costs in stops.",
    )
    .argument("<feed...>", "feed files in order")
    .requiredOption("--line <path>", "line file of the railroad (YAML), or a folder of dated ones")
    .requiredOption("--rules <path>", "rules: a file or a folder; give it twice, A first, then B", collect)
    .option("--json", "print the comparison as JSON, and no progress")
    .option("--quiet", "no progress")
    .addHelpText(
      "after",
      "\nExample:\n  bearing-rise compare --line replay-data/line.yaml --rules replay-data/rules/standard --rules replay-data/rules/cautious replay-data/day.jsonl.zst",
    )
    .action(run);
}

async function run(feeds: string[], options: Options): Promise<void> {
  const [pathA, pathB, ...more] = options.rules;
  if (pathA === undefined || pathB === undefined || more.length > 0) {
    throw new CommandError(
      EXIT.usage,
      `bearing-rise: compare needs --rules exactly twice, A and then B; it was given ${countOf(options.rules.length, "time")}.`,
    );
  }
  if (feeds.includes("-"))
    throw new CommandError(
      EXIT.usage,
      "bearing-rise: compare reads the feed twice, which standard input cannot be: save it to a file first.",
    );
  const railroad = lineOf(options.line);
  const [rulesA, rulesB] = [rulesOf(pathA), rulesOf(pathB)];
  const days: Day[] = [];
  for (const rules of [rulesA, rulesB]) {
    const progress = new Progress(process.stderr, () => performance.now(), options.json === true || options.quiet === true);
    let last: Standing | null = null;
    days.push(
      await replay({
        railroad,
        rules,
        feeds,
        onProgress: (standing) => {
          last = standing;
          progress.show(standing);
        },
      }),
    );
    if (last !== null) progress.finish(last);
  }
  const comparison = compareDays({ name: pathA, day: days[0]! }, { name: pathB, day: days[1]! });
  process.stdout.write(options.json === true ? `${JSON.stringify(comparison)}\n` : comparisonText(comparison));
  const { cutShort } = days[0]!;
  if (cutShort !== null) throw cutShort;
  const { read, outcomes } = days[0]!.records;
  assertUsable(feeds, read, outcomes.rejected);
}
