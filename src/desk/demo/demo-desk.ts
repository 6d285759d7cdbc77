import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { InvalidArgumentError } from "commander";
import { AssembleStage } from "../../flow/assemble-stage.ts";
import { wallClock } from "../../flow/clock.ts";
import { FollowStage } from "../../flow/follow-stage.ts";
import { startStage } from "../../flow/stage.ts";
import type { Log } from "../../log/log.ts";
import { openSqliteLog } from "../../log/sqlite/sqlite-log.ts";
import { INBOUND, partitionsOf, TOPICS } from "../../log/topics.ts";
import { lineOf, rulesOf } from "../../replay/railroad-files.ts";
import { createLogger } from "../../telemetry/logger.ts";
import { createMetrics } from "../../telemetry/metrics.ts";
import type { RuleBook } from "../../warning/rule-book.ts";
import { deskConfig } from "../desk-config.ts";
import { type DeskOptions, type RunningDesk, startDesk } from "../start-desk.ts";
import { DayIntoLog } from "./day-into-log.ts";
import { DemoClock } from "./demo-clock.ts";
import type { DemoOptions } from "./demo-command.ts";
import { demoFeed } from "./demo-feed.ts";
import { runDemo } from "./demo-run.ts";
import { checkPortFree } from "./free-port.ts";
import { nightShift } from "./night-shift.ts";

/** The demonstration's log forgets raw readings after half an hour of the machine's time, else it would fill the disk. */
const KEPT_MS = 30 * 60_000;
const MOST_BYTES = 4e9;
/** The stages have taken everything once what they hand on has not grown for so long. */
const QUIET_MS = 800;
const LOOK_EVERY_MS = 50;

const PORT_REMEDY = "Choose another one, or 0 for any that is free: npm start -- --port 0";

/** Runs the recorded day through the embedded log and both stages, and the desk on it, until it is told to stop. */
export async function runDemoDesk(feed: string, options: DemoOptions): Promise<void> {
  const railroad = lineOf(options.line);
  const book = rulesOf(options.rules);
  const runFromMs = Date.parse(options.from);
  if (!Number.isFinite(runFromMs)) throw new InvalidArgumentError(`--from ${options.from}: not a time; e.g. 2026-03-04T13:00:00Z`);
  await checkPortFree(deskConfig.parse({ port: options.port }), PORT_REMEDY);
  const folder = mkdtempSync(join(tmpdir(), "bearing-rise-demo-"));
  try {
    await inFolder(folder, feed, options, { railroad, book, runFromMs });
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

type Railroad = ReturnType<typeof lineOf>;

async function inFolder(
  folder: string,
  feed: string,
  options: DemoOptions,
  on: { railroad: Railroad; book: RuleBook; runFromMs: number },
): Promise<void> {
  const { railroad, book, runFromMs } = on;
  const stop = stopped();
  const closing: (() => Promise<void>)[] = [];
  try {
    const log = await openSqliteLog({
      folder,
      partitions: partitionsOf(),
      retentionMs: new Map(TOPICS.map(({ name, retentionMs }) => [name, name === "axle-readings" ? KEPT_MS : retentionMs])),
      mostBytes: MOST_BYTES,
    });
    closing.push(() => log.close());
    const parts = { log, clock: wallClock, metrics: createMetrics({ version: "demonstration" }), logger: createLogger({ level: "warn" }) };
    const assembling = (source: { topic: string; partition: number }) => new AssembleStage(railroad, source, "feed");
    const assemble = await startStage({ ...parts, name: "assemble", topics: INBOUND, make: assembling });
    closing.push(() => assemble.close());
    const following = ({ partition }: { partition: number }) => new FollowStage(railroad, book, partition, "feed");
    const follow = await startStage({ ...parts, name: "follow", topics: ["passes"], make: following });
    closing.push(() => follow.close());
    process.stdout.write("Folding the recorded day up to where the demonstration begins ...\n");
    const clock = new DemoClock(0, options.speed);
    const day = await DayIntoLog.into(log);
    const demo = runDemo(
      demoFeed(feed, railroad.sites.size),
      clock,
      runFromMs,
      (due) => day.take(due),
      () => quiet(log),
    );
    closing.push(() => demo.stop());
    await Promise.race([demo.started, stop]);
    const desk = await startDesk({ ...deskOptions(options), log, railroad, book, clock });
    closing.push(() => desk.close());
    await handOver(desk, log, runFromMs);
    process.stdout.write(
      `\nThe desk is open: ${desk.url}\n\nA demonstration on an invented railroad, ${paceWords(options.speed)}. Stop it with Ctrl-C.\n`,
    );
    const ended = await Promise.race([stop, demo.ended, desk.broken, assemble.broken, follow.broken]);
    if (ended instanceof Error) throw ended;
  } finally {
    // The last opened first; also when something could not be opened.
    for (const close of closing.reverse()) await close();
  }
}

function deskOptions({
  port,
  users,
  otherRules,
  speed,
}: DemoOptions): Pick<DeskOptions, "config" | "otherRules" | "time" | "demonstration" | "portRemedy"> {
  return {
    config: deskConfig.parse({ port, ...(users === undefined ? {} : { users }) }),
    otherRules: new Map(otherRules === undefined ? [] : [[nameOf(otherRules), rulesOf(otherRules)]]),
    time: "feed",
    portRemedy: PORT_REMEDY,
    demonstration: `Demonstration: a simulated day of an invented railroad, ${paceWords(speed)}. No real train, no real warning.`,
  };
}

/** How fast the day runs. */
export function paceWords(speed: number): string {
  return speed === 1 ? "at the pace of the clock" : `${speed} times faster than the clock`;
}

/** The shift before takes down what it did. */
async function handOver(desk: RunningDesk, log: Log, untilMs: number): Promise<void> {
  const actions = nightShift(desk.desk.state.board, untilMs);
  if (actions.length === 0) return;
  await log.append(actions.map((action) => ({ topic: "desk-actions", key: action.warning ?? "", value: JSON.stringify(action) })));
}

/** Resolves once the stages hand on nothing more; the day must stand still meanwhile. */
async function quiet(log: Log): Promise<void> {
  let before = -1;
  for (let quietMs = 0; quietMs < QUIET_MS; quietMs += LOOK_EVERY_MS) {
    let now = 0;
    for (const topic of ["passes", "warnings", "site-conditions"]) for (const { end } of await log.extent(topic)) now += end;
    if (now !== before) quietMs = 0;
    before = now;
    await new Promise((resolve) => setTimeout(resolve, LOOK_EVERY_MS));
  }
}

/** Last part of the path: what the page calls the rules. */
function nameOf(path: string): string {
  return path.replace(/\/+$/, "").split("/").at(-1) ?? path;
}

/** A terminal sends Ctrl-C to every process of the command, and the first hands it on: the second one must not cut the closing short. */
function stopped(): Promise<void> {
  return new Promise((resolve) => {
    for (const signal of ["SIGINT", "SIGTERM"] as const) process.on(signal, () => resolve());
  });
}
