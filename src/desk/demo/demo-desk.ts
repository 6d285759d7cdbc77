import { InvalidArgumentError } from "commander";
import { MemoryBroker } from "../../log/memory.ts";
import { TOPICS } from "../../log/topics.ts";
import { lineOf, rulesOf } from "../../replay/railroad-files.ts";
import { deskConfig } from "../desk-config.ts";
import { startDesk } from "../start-desk.ts";
import { DemoClock } from "./demo-clock.ts";
import type { DemoOptions } from "./demo-command.ts";
import { demoFeed } from "./demo-feed.ts";
import { runDemo } from "./demo-run.ts";
import { FlowIntoLog } from "./flow-into-log.ts";
import { NightShift } from "./night-shift.ts";

/** Runs the recorded day and the desk on it until it is told to stop. */
export async function runDemoDesk(feed: string, options: DemoOptions): Promise<void> {
  const railroad = lineOf(options.line);
  const book = rulesOf(options.rules);
  const runFromMs = Date.parse(options.from);
  if (!Number.isFinite(runFromMs)) throw new InvalidArgumentError(`--from ${options.from}: not a time; e.g. 2026-03-04T13:00:00Z`);
  const clock = new DemoClock(0, options.speed);
  const broker = new MemoryBroker({ partitions: new Map(TOPICS.map(({ name }) => [name, 1])), now: () => clock.nowMs() });
  const log = broker.connect();
  const flow = new FlowIntoLog(log, railroad, book, new NightShift(runFromMs));
  await flow.open();
  process.stdout.write("Folding the recorded day up to where the demonstration begins ...\n");
  const demo = runDemo(demoFeed(feed, railroad.sites.size), clock, runFromMs, (due) => flow.take(due));
  await demo.started;
  const otherRules = new Map(options.otherRules === "" ? [] : [[nameOf(options.otherRules), rulesOf(options.otherRules)]]);
  const desk = await startDesk({
    config: deskConfig.parse({ port: options.port }),
    log,
    railroad,
    book,
    otherRules,
    clock,
    demonstration: `Demonstration: a simulated day of an invented railroad, ${options.speed} times faster than the clock. No real train, no real warning.`,
  });
  process.stdout.write(
    `\nThe desk is open: ${desk.url}\n\nA demonstration on an invented railroad, ${options.speed} times faster than the clock. Stop it with Ctrl-C.\n`,
  );
  await Promise.race([stopped(), demo.ended, desk.broken]);
  await desk.close();
  await demo.stop();
  await flow.close();
  await log.close();
}

/** Last part of the path: what the page calls the rules. */
function nameOf(path: string): string {
  return path.replace(/\/+$/, "").split("/").at(-1) ?? path;
}

function stopped(): Promise<void> {
  return new Promise((resolve) => {
    for (const signal of ["SIGINT", "SIGTERM"] as const) process.once(signal, () => resolve());
  });
}
