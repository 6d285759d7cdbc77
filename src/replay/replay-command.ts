import { Command } from "commander";
import type { Day } from "./day.ts";
import { EXIT } from "./exit-status.ts";
import { type NarrowOptions, narrow } from "./narrow.ts";
import { Outputs } from "./outputs.ts";
import { Progress, type Standing } from "./progress.ts";
import { lineOf, rulesOf } from "./railroad-files.ts";
import { replay } from "./replay.ts";
import { reportHtml } from "./report.ts";
import { summaryOf } from "./summary.ts";
import { summaryText } from "./summary-text.ts";
import { assertUsable } from "./usable.ts";

interface Options extends NarrowOptions {
  line: string;
  rules: string;
  out: string;
  recordedOrder?: true;
  json?: true;
  quiet?: true;
  strict?: true;
}

/** `bearing-rise replay`: recorded feeds through the folds; files, a summary and a report. */
export function replayCommand(): Command {
  return new Command("replay")
    .description(
      "Runs recorded feeds through exactly the folds that run live; writes passes, warnings, site conditions, rejected records, a summary and a report.",
    )
    .argument("<feed...>", "feed files in order: JSON Lines, plain, gzip or zstd; - is standard input")
    .requiredOption("--line <path>", "line file of the railroad (YAML), or a folder of dated ones")
    .requiredOption("--rules <path>", "rules: a file, or a folder of dated ones")
    .requiredOption("--out <dir>", "folder for the results; files of an earlier replay in it are replaced")
    .option("--from <time>", "report from this UTC time on, e.g. 2026-03-04T05:00Z; everything is folded all the same")
    .option("--to <time>", "report up to this UTC time (exclusive)")
    .option("--train <id...>", "report these trains only, by train or journey id")
    .option("--site <id...>", "report what concerns these sites only")
    .option("--recorded-order", "follow the recorded passes of a recorded feed in the order of that day, instead of assembling them anew")
    .option("--json", "print the summary as JSON, and no progress")
    .option("--quiet", "no progress")
    .option("--strict", `end with status ${EXIT.rejected} when any record was rejected`)
    .addHelpText(
      "after",
      "\nExample:\n  bearing-rise replay --line replay-data/line.yaml --rules replay-data/rules/standard --out out replay-data/day.jsonl.zst",
    )
    .action(run);
}

async function run(feeds: string[], options: Options): Promise<void> {
  const railroad = lineOf(options.line);
  const rules = rulesOf(options.rules);
  const narrowed = narrow(options, new Set(railroad.sites.keys()));
  const outputs = new Outputs(options.out);
  const progress = new Progress(process.stderr, () => performance.now(), options.json === true || options.quiet === true);
  let last: Standing = { bytes: 0, totalBytes: null, axles: 0, eventMs: Number.NaN, warnings: 0 };
  let cutShort: Day["cutShort"] = null;
  let [read, rejected] = [0, 0];
  try {
    const day = await replay({
      railroad,
      rules,
      feeds,
      narrow: narrowed,
      outputs,
      order: options.recordedOrder === true ? "recorded" : "assembled",
      onProgress: (standing) => {
        last = standing;
        progress.show(standing);
      },
    });
    progress.finish(last);
    outputs.finish();
    const summary = summaryOf(day);
    outputs.document("summary", `${JSON.stringify(summary, null, 2)}\n`);
    const report = outputs.document("report", reportHtml(railroad, day));
    process.stdout.write(options.json === true ? `${JSON.stringify(summary)}\n` : `${summaryText(summary)}\nReport: ${report}\n`);
    cutShort = day.cutShort;
    read = day.records.read;
    rejected = day.records.outcomes.rejected;
    if (options.strict === true && rejected > 0) process.exitCode = EXIT.rejected;
  } catch (error) {
    outputs.abandon();
    throw error;
  }
  if (cutShort !== null) throw cutShort;
  assertUsable(feeds, read, rejected);
}
