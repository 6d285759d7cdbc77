import { setImmediate as breathe } from "node:timers/promises";
import { afterEach, expect, test } from "vitest";
import { AssembleStage } from "../../src/flow/assemble-stage.ts";
import type { Clock } from "../../src/flow/clock.ts";
import { FollowStage } from "../../src/flow/follow-stage.ts";
import { MARK_MS } from "../../src/flow/source-clock.ts";
import { type RunningStage, startStage } from "../../src/flow/stage.ts";
import { startTicker, TICK_EVERY_MS, type Ticker } from "../../src/flow/ticker.ts";
import { MemoryBroker } from "../../src/log/memory.ts";
import { INBOUND, partitionsOf } from "../../src/log/topics.ts";
import { createLogger } from "../../src/telemetry/logger.ts";
import { createMetrics, type Metrics } from "../../src/telemetry/metrics.ts";
import { type PublishedReader, startPublished } from "../../src/telemetry/published.ts";
import { demoRailroad, demoRules } from "../flow/folded.ts";

const NOON = Date.parse("2026-03-04T12:00:00.000Z");
/** What the heartbeat may be old by when all is well: a tick's way to a mark, to the next tick, and its commits. */
const USUAL_AGE_MS = MARK_MS + 2 * TICK_EVERY_MS + 2_000;
/** Of the rule `Watchdog`. */
const WATCHDOG_MS = 60_000;

/** Time that goes on only when a test says so, second by second, with everybody having a turn in between. */
class HandClock implements Clock {
  private ms = NOON;
  private readonly timers = new Set<{ atMs: number; call: () => void }>();
  readonly now = () => this.ms;
  readonly breathe = () => breathe();

  after(ms: number, call: () => void): () => void {
    const timer = { atMs: this.ms + ms, call };
    this.timers.add(timer);
    return () => this.timers.delete(timer);
  }

  async pass(seconds: number): Promise<void> {
    for (let second = 0; second < seconds; second++) {
      this.ms += 1_000;
      for (const timer of [...this.timers]) {
        if (timer.atMs > this.ms) continue;
        this.timers.delete(timer);
        timer.call();
      }
      for (let turn = 0; turn < 10; turn++) await breathe();
    }
  }
}

interface Running {
  clock: HandClock;
  broker: MemoryBroker;
  metrics: Metrics;
  closing: (RunningStage | Ticker | PublishedReader)[];
}

let running: Running | null = null;

afterEach(async () => {
  const { clock, closing } = running as Running;
  for (const part of closing.reverse()) {
    const closed = part.close();
    await clock.pass(1);
    await closed;
  }
  running = null;
});

/** Both stages over the log in memory. `withhold`: an inbound topic that gets no ticks. */
async function start(withhold: string | null = null): Promise<Running> {
  const clock = new HandClock();
  const broker = new MemoryBroker({ partitions: partitionsOf(), now: clock.now });
  const metrics = createMetrics({ version: "1", nodeDefaults: false, now: clock.now });
  const logger = createLogger({ level: "silent" });
  const log = broker.connect();
  const railroad = demoRailroad();
  const rules = demoRules();
  running = { clock, broker, metrics, closing: [] };
  const parts = { log, clock, metrics, logger };
  running.closing.push(
    await startPublished(log, metrics, logger),
    await startStage({ ...parts, name: "assemble", topics: INBOUND, make: (source) => new AssembleStage(railroad, source, "arrival") }),
    await startStage({
      ...parts,
      name: "follow",
      topics: ["passes"],
      make: ({ partition }) => new FollowStage(railroad, rules, partition),
    }),
    await startTicker(withholding(log, withhold), clock, metrics, logger),
  );
  return running;
}

/** A log into which a topic's ticks do not get, as when one partition stands still. */
function withholding(log: ReturnType<MemoryBroker["connect"]>, topic: string | null): typeof log {
  if (topic === null) return log;
  const append: typeof log.append = (records) => log.append(records.filter((record) => record.topic !== topic));
  return Object.assign(Object.create(log) as typeof log, { append, partitions: log.partitions.bind(log) });
}

async function told({ metrics }: Running, name: string): Promise<string[]> {
  return (await metrics.registry.metrics()).split("\n").filter((line) => line.startsWith(`bearing_rise_${name}`));
}

async function heartbeatAges(now: Running): Promise<number[]> {
  const lines = await told(now, "pipeline_heartbeat_timestamp_seconds");
  return lines.map((line) => now.clock.now() - Number(line.split(" ").at(-1)) * 1_000);
}

async function say(now: Running, sites: readonly string[]): Promise<void> {
  const time = new Date(now.clock.now()).toISOString();
  const beats = sites.map((site) => ({
    topic: "site-reports",
    key: site,
    value: JSON.stringify({ type: "heartbeat", site, time, ambient: 54 }),
  }));
  await now.broker.connect().append(beats);
}

test("a tick goes into the log, through both stages, and comes out as the pipeline's heartbeat", async () => {
  const now = await start();
  await now.clock.pass(30);
  const ages = await heartbeatAges(now);
  expect(ages.length).toBeGreaterThan(0);
  for (const age of ages) expect(age).toBeLessThanOrEqual(USUAL_AGE_MS);
  expect(await told(now, "ticks_total")).not.toContain("bearing_rise_ticks_total 0");
});

test("minutes later it is as young as before", async () => {
  const now = await start();
  for (let minute = 0; minute < 5; minute++) {
    await now.clock.pass(60);
    for (const age of await heartbeatAges(now)) expect(age).toBeLessThanOrEqual(USUAL_AGE_MS);
  }
});

test("when the ticker dies, the heartbeat grows old enough for the watchdog to stop", async () => {
  const now = await start();
  await now.clock.pass(30);
  await now.closing.pop()?.close();
  await now.clock.pass(WATCHDOG_MS / 1_000 + 30);
  for (const age of await heartbeatAges(now)) expect(age).toBeGreaterThan(WATCHDOG_MS);
});

test("one source that no tick comes from holds the heartbeat back, however the others go on", async () => {
  const now = await start("consists");
  await now.clock.pass(120);
  expect(await heartbeatAges(now)).toEqual([]);
});

test("a partition that cannot be claimed makes the stage unready, by its name; the others go on", async () => {
  const now = await start();
  await now.clock.pass(5);
  const log = now.broker.connect();
  const claim: typeof log.claim = (source) => (source.partition === 2 ? Promise.reject(new Error("no broker")) : log.claim(source));
  const sick = Object.assign(Object.create(log) as typeof log, { claim, work: log.work.bind(log) });
  const { clock, metrics } = now;
  const make = ({ partition }: { partition: number }) => new FollowStage(demoRailroad(), demoRules(), partition);
  const logger = createLogger({ level: "silent" });
  const stage = await startStage({ log: sick, clock, metrics, logger, name: "other", topics: ["passes"], make });
  now.closing.push(stage);
  await clock.pass(10);
  expect(stage.unready()).toBe("passes/2 broken");
  expect((now.closing[1] as RunningStage).unready()).toBeNull();
  expect(await told(now, "task_state")).toContain('bearing_rise_task_state{stage="other",topic="passes",partition="2",state="broken"} 1');
});

test("a site goes dead: it is told once, as open, while the others are not", async () => {
  const now = await start();
  const all = [...demoRailroad().sites.keys()];
  const [dying = "", ...others] = all;
  for (let minute = 0; minute < 6; minute++) {
    await say(now, all);
    await now.clock.pass(60);
  }
  expect(await told(now, "site_conditions_open")).toEqual([]);
  for (let minute = 0; minute < 4; minute++) {
    await say(now, others);
    await now.clock.pass(60);
  }
  expect(await told(now, "site_conditions_open")).toEqual([
    `bearing_rise_site_conditions_open{site="${dying}",kind="dead",state="unacknowledged"} 1`,
  ]);
  expect(await told(now, "site_conditions_raised_total")).toEqual(['bearing_rise_site_conditions_raised_total{kind="dead"} 1']);
});
