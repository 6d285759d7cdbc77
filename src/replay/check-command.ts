import { Command } from "commander";
import { check } from "./check.ts";
import { EXIT } from "./exit-status.ts";

/** `bearing-rise check`: what is wrong with a file, or what was understood of it. */
export function checkCommand(): Command {
  return new Command("check")
    .description(
      "Says what is wrong with a line file, rules and a feed, by line and column and all mistakes at once, or prints what it understood.",
    )
    .argument("<line>", "line file of the railroad (YAML), or a folder of dated ones")
    .argument("<rules>", "rules: a file, or a folder of dated ones")
    .argument("[feed]", "a feed file; - is standard input")
    .option("--json", "print the result as JSON")
    .option("--strict", `end with status ${EXIT.rejected} when any record of the feed is rejected`)
    .addHelpText("after", "\nExample:\n  bearing-rise check replay-data/line.yaml replay-data/rules/standard replay-data/day.jsonl.zst")
    .action(async (line: string, rules: string, feed: string | undefined, options: { json?: true; strict?: true }) => {
      const checked = await check(line, rules, feed ?? null);
      process.stdout.write(options.json === true ? `${JSON.stringify(checked.json)}\n` : checked.text);
      const isStrict = options.strict === true && checked.status === EXIT.done && checked.rejectedRecords > 0;
      process.exitCode = isStrict ? EXIT.rejected : checked.status;
    });
}
