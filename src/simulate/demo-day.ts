import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { madeText, runSimulate } from "./run.ts";

/** Remakes the recorded day of the demonstration from its scenario: `node src/simulate/demo-day.ts`. */

const folder = join(dirname(fileURLToPath(import.meta.url)), "../../replay-data");

const made = await runSimulate({
  line: join(folder, "line.yaml"),
  scenario: join(folder, "scenario.yaml"),
  out: folder,
  feedName: "day.jsonl.zst",
  truthName: "day.truth.jsonl.zst",
});
process.stdout.write(madeText(made));
