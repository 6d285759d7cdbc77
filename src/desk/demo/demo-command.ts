import { Command, InvalidArgumentError } from "commander";

export interface DemoOptions {
  line: string;
  rules: string;
  otherRules?: string;
  port: number;
  speed: number;
  from: string;
  users?: string;
}

/** `bearing-rise demo`: a recorded day in time-lapse through the folds, and the desk on it. */
export function demoCommand(): Command {
  return new Command("demo")
    .description("Runs a recorded day in time-lapse and opens the desk's page on it. A demonstration: stop it with Ctrl-C.")
    .argument("<feed>", "recorded day: JSON Lines, plain, gzip or zstd")
    .requiredOption("--line <path>", "line file of the railroad (YAML), or a folder of dated ones")
    .requiredOption("--rules <path>", "rules: a file, or a folder of dated ones")
    .option("--other-rules <path>", "rules for 'what if' on the page")
    .option("--port <number>", "port of the page on this machine; 0: any that is free", portOf, 8470)
    .option("--users <file>", "users file; without one a name is enough to sign in, on this machine only")
    .option("--speed <times>", "how many times faster than the clock", speedOf, 60)
    .option("--from <time>", "where the day begins to run by the clock; all before is taken at once", "2026-03-04T13:34:00Z")
    .addHelpText(
      "after",
      "\nExample:\n  bearing-rise demo --line replay-data/line.yaml --rules replay-data/rules/standard replay-data/day.jsonl.zst",
    )
    .action(async (feed: string, options: DemoOptions) => {
      // The server's libraries are loaded only where one is opened.
      const { runDemoDesk } = await import("./demo-desk.ts");
      await runDemoDesk(feed, options);
    });
}

function portOf(text: string): number {
  const port = Number(text);
  if (!Number.isInteger(port) || port < 0 || port > 65_535) throw new InvalidArgumentError("a port is a number from 0 to 65535");
  return port;
}

function speedOf(text: string): number {
  const speed = Number(text);
  if (!(speed >= 1 && speed <= 10_000)) throw new InvalidArgumentError("from 1 to 10000 times");
  return speed;
}
