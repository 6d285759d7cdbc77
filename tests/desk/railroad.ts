import { DayIntoLog } from "../../src/desk/demo/day-into-log.ts";
import { demoFeed } from "../../src/desk/demo/demo-feed.ts";
import { deskConfig } from "../../src/desk/desk-config.ts";
import { type DeskOptions, type RunningDesk, startDesk } from "../../src/desk/start-desk.ts";
import { AssembleStage } from "../../src/flow/assemble-stage.ts";
import { wallClock } from "../../src/flow/clock.ts";
import { FollowStage } from "../../src/flow/follow-stage.ts";
import { startStage } from "../../src/flow/stage.ts";
import { loadLine } from "../../src/line/line-file.ts";
import type { Log } from "../../src/log/log.ts";
import { MemoryBroker } from "../../src/log/memory.ts";
import { INBOUND, TOPICS } from "../../src/log/topics.ts";
import { createLogger } from "../../src/telemetry/logger.ts";
import { createMetrics } from "../../src/telemetry/metrics.ts";
import { loadRules } from "../../src/warning/rules.ts";

/** The demonstration's railroad and rules, and its day through both real stages over a log in memory. */

export const RAILROAD = loadLine("replay-data/line.yaml").railroad!;
export const BOOK = loadRules("replay-data/rules/standard").rules!;
export const CAUTIOUS = loadRules("replay-data/rules/cautious").rules!;
export const DAY = "replay-data/day.jsonl.zst";

export function emptyLog(): Log {
  return new MemoryBroker({ partitions: new Map(TOPICS.map(({ name }) => [name, 1])) }).connect();
}

export interface RunningRailroad {
  log: Log;
  /** Resolves once the stages hand on nothing more. */
  quiet(): Promise<void>;
  close(): Promise<void>;
}

/** Both stages over an empty log: what is appended to it is folded as it is live. */
export async function runStages(log: Log): Promise<RunningRailroad> {
  const parts = { log, clock: wallClock, metrics: createMetrics({ version: "test" }), logger: createLogger({ level: "silent" }) };
  const make = (partition: number) => new FollowStage(RAILROAD, BOOK, partition, "feed");
  const assemble = await startStage({
    ...parts,
    name: "assemble",
    topics: INBOUND,
    make: (source) => new AssembleStage(RAILROAD, source, "feed"),
  });
  const follow = await startStage({ ...parts, name: "follow", topics: ["passes"], make: ({ partition }) => make(partition) });
  return {
    log,
    quiet: () => quiet(log),
    close: async () => {
      await assemble.close();
      await follow.close();
      await log.close();
    },
  };
}

/** The recorded day up to a time, folded. */
export async function railroadAt(untilMs: number): Promise<RunningRailroad> {
  const running = await runStages(emptyLog());
  await feedUntil(running.log, untilMs);
  await running.quiet();
  return running;
}

/** A desk on the demonstration's railroad and rules over a log, whose clock says `nowMs`. */
export function deskOnLog(log: Log, nowMs: number, options: Partial<DeskOptions> = {}): Promise<RunningDesk> {
  return startDesk({
    config: deskConfig.parse({ port: 0 }),
    log,
    railroad: RAILROAD,
    book: BOOK,
    clock: { nowMs: () => nowMs, speed: 1 },
    time: "feed",
    ...options,
  });
}

/** The recorded day up to a time, folded, and a desk on it whose clock says `nowMs`. */
export async function deskOnDay(
  untilMs: number,
  options: Partial<DeskOptions> = {},
): Promise<{ running: RunningRailroad; desk: RunningDesk; close(): Promise<void> }> {
  const running = await railroadAt(untilMs);
  const desk = await deskOnLog(running.log, untilMs, { otherRules: new Map([["cautious", CAUTIOUS]]), ...options });
  const close = async () => {
    await desk.close();
    await running.close();
  };
  return { running, desk, close };
}

async function feedUntil(log: Log, untilMs: number): Promise<void> {
  const day = await DayIntoLog.into(log);
  for await (const due of demoFeed(DAY, RAILROAD.sites.size, 1)) {
    await day.take(due.filter(({ dueMs }) => dueMs <= untilMs));
    if (due.at(-1)!.dueMs > untilMs) return;
  }
}

async function quiet(log: Log): Promise<void> {
  let before = -1;
  for (let same = 0; same < 10; same++) {
    let now = 0;
    for (const { name } of TOPICS) for (const { end } of await log.extent(name)) now += end;
    if (now !== before) same = 0;
    before = now;
    await new Promise((resolve) => setTimeout(resolve, 30));
  }
}
