import { AssembleStage, type TimeOfFeed } from "../../src/flow/assemble-stage.ts";
import { FollowStage } from "../../src/flow/follow-stage.ts";
import { PassesAtHand } from "../../src/flow/passes-at-hand.ts";
import { type RunningStage, startStage } from "../../src/flow/stage.ts";
import { ticks } from "../../src/flow/ticker.ts";
import type { LogRecord, Position, Source } from "../../src/log/log.ts";
import type { MemoryBroker } from "../../src/log/memory.ts";
import { INBOUND, type TopicName } from "../../src/log/topics.ts";
import { Random } from "../../src/simulate/random.ts";
import { createLogger } from "../../src/telemetry/logger.ts";
import { createMetrics } from "../../src/telemetry/metrics.ts";
import { demoRules } from "../flow/folded.ts";
import { type Expected, mismatch, sequential } from "./sequential.ts";
import { type Sent, START_MS, tinyFeed, tinyRailroad } from "./tiny-feed.ts";
import { type Host, type Odds, World } from "./world.ts";

const railroad = tinyRailroad();
const rules = demoRules();
const feed = tinyFeed();
const logger = createLogger({ level: "silent" });
const metrics = createMetrics({ version: "test", nodeDefaults: false });

const PARTITIONS = new Map<TopicName, number>([
  ["axle-readings", 2],
  ["site-reports", 1],
  ["consists", 1],
  ["desk-actions", 1],
  ["passes", 2],
  ["warnings", 1],
  ["site-conditions", 1],
  ["calibrations", 1],
  ["functional-tests", 1],
  ["equipment-seen", 1],
  ["rejected", 1],
]);

const SOURCES = INBOUND.flatMap((topic) => Array.from({ length: PARTITIONS.get(topic)! }, (_, partition) => ({ topic, partition })));
const TICK_EVERY_MS = 30 * 60_000;
const LONGEST_TICKLESS_MS = 90 * 60_000;
const EARLY_READINGS = feed.filter(({ topic, atMs }) => topic === "axle-readings" && atMs < START_MS + LONGEST_TICKLESS_MS);
const CRASH_WITHIN_MS = 15_000;
/** Between leaving and coming again. */
const AWAY_MS = 2_000;
const MOST_FAULTS = 12;
/** At one await, of some thousand in a run. */
const MOST_ODDS = 0.02;
const LAST_MS = Math.max(...feed.map(({ atMs }) => atMs)) + 3 * 3_600_000;
/** A run has a few thousand; far more means that it goes round in circles. */
const MOST_STEPS = 60_000;

export interface SimulatedRun {
  /** What is wrong; null when nothing is. */
  wrong: string | null;
  faults: string[];
  warnings: number;
}

/** Two processes, both stages, a morning's feed and whatever the seed brings; the log is then held against a plain run. */
export async function simulatedRun(seed: number): Promise<SimulatedRun> {
  const random = new Random(seed, "run");
  const odds: Odds = {
    most: random.below(MOST_FAULTS + 1),
    crash: MOST_ODDS * random.unit() ** 2,
    freeze: MOST_ODDS * random.unit() ** 2,
    leave: MOST_ODDS * random.unit() ** 2,
    lostAnswer: 10 * MOST_ODDS * random.unit() ** 2,
    slip: MOST_ODDS * random.unit() ** 2,
  };
  // Where recorded days are fed in, records have no time of ours until the first tick.
  const time: TimeOfFeed = random.unit() < 0.25 ? "feed" : "arrival";
  const broken: Error[] = [];
  const world = new World(seed, START_MS, PARTITIONS, odds, (host) => void startHost(host, time, broken));
  const waiting = sendAll(world, random);
  for (let i = 0, hosts = 1 + random.below(3); i < hosts; i++) world.addHost();
  try {
    await world.until(() => waiting.left === 0 || broken.length > 0, MOST_STEPS);
    world.calmDown();
    await world.until(() => broken.length > 0 || isAllCommitted(world.broker), MOST_STEPS);
  } catch (error) {
    return { wrong: (error as Error).message, faults: world.faults, warnings: 0 };
  }
  const wrong = broken[0]?.message ?? check(world.broker, time);
  return { wrong, faults: world.faults, warnings: world.broker.end("warnings", 0) };
}

/** `atHand`: of the process; the plain run over what is in the log parses all of it. */
function makeFold(source: Source, time: TimeOfFeed, start?: Position, atHand: PassesAtHand | null = null) {
  if (source.stage === "assemble") return new AssembleStage(railroad, source, time, atHand);
  return new FollowStage(railroad, rules, source.partition, time, start, atHand);
}

async function startHost(host: Host, time: TimeOfFeed, broken: Error[]): Promise<void> {
  const stages: RunningStage[] = [];
  const atHand = new PassesAtHand();
  const make = (source: Source, start: Position) => makeFold(source, time, start, atHand);
  for (const [name, topics] of [["assemble", INBOUND] as const, ["follow", ["passes"]] as const]) {
    const stage = await startStage({ name, topics, make, log: host.slipping, clock: host.clock, metrics, logger });
    stages.push(stage);
    void stage.broken.then((error) => {
      if (!host.dead) broken.push(error);
    });
  }
  host.leave = () => {
    host.leave = () => {};
    void Promise.all(stages.map((stage) => stage.close())).then(() => host.clock.after(AWAY_MS, () => void startHost(host, time, broken)));
  };
}

/** The feed and its ticks, each partition in order, with an outage of a while for some of them. */
function sendAll(world: World, random: Random): { left: number } {
  const sender = new MemoryBrokerSender(world.broker);
  const held = {
    topic: random.pick(["axle-readings", "site-reports", "none"]),
    fromMs: START_MS + random.unit() * 3_600_000,
    ms: random.unit() * 1_800_000,
  };
  const when = ({ topic, atMs }: { topic: string; atMs: number }) =>
    topic === held.topic && atMs >= held.fromMs && atMs < held.fromMs + held.ms ? held.fromMs + held.ms : atMs;
  const waiting = { left: 0 };
  const send = (at: number, put: () => void) => {
    waiting.left++;
    world.after(at - START_MS, () => {
      put();
      waiting.left--;
    });
  };
  for (const record of feed) send(when(record), () => sender.send(record));
  // Where nobody ticked for a while, a pass may be half there when the first tick comes, and everything may end right then.
  const isTickless = random.unit() < 0.5;
  const firstMs = isTickless ? when(random.pick(EARLY_READINGS)) + 1_000 : START_MS;
  if (isTickless) world.after(firstMs + random.unit() * CRASH_WITHIN_MS - START_MS, () => world.crashAll());
  for (let atMs = firstMs; atMs <= LAST_MS; atMs += TICK_EVERY_MS) {
    const each = ticks(SOURCES, atMs);
    send(atMs, () => world.broker.put(world.broker.place(each)));
  }
  return waiting;
}

/** A sender outside of the simulated faults. */
class MemoryBrokerSender {
  private readonly broker: MemoryBroker;

  constructor(broker: MemoryBroker) {
    this.broker = broker;
  }

  send({ topic, key, value }: Sent): void {
    this.broker.put(this.broker.place([{ topic, key, value }]));
  }
}

function isAllCommitted(broker: MemoryBroker): boolean {
  const isDone = (stage: string, topic: string, partition: number) =>
    broker.standing({ stage, topic, partition }).position === broker.end(topic, partition);
  return (
    SOURCES.every(({ topic, partition }) => isDone("assemble", topic, partition)) &&
    [0, 1].every((partition) => isDone("follow", "passes", partition))
  );
}

/** What came out against what must have: both stages, every partition of every topic. */
function check(broker: MemoryBroker, time: TimeOfFeed): string | null {
  const all = (topic: string, partition: number): LogRecord[] => broker.topic(topic, partition);
  const expected: Expected[] = [
    ...SOURCES.map(({ topic, partition }) => ["assemble", topic, partition] as const),
    ...[0, 1].map((partition) => ["follow", "passes", partition] as const),
  ].map(([stage, topic, partition]) =>
    sequential(makeFold({ stage, topic, partition }, time), `${stage} of ${topic}/${partition}`, all(topic, partition)),
  );
  for (const topic of [
    "passes",
    "warnings",
    "site-conditions",
    "calibrations",
    "functional-tests",
    "equipment-seen",
    "rejected",
  ] as const) {
    const partitions = PARTITIONS.get(topic)!;
    for (let partition = 0; partition < partitions; partition++) {
      const wrong = mismatch(all(topic, partition), topic, partition, partitions, expected);
      if (wrong !== null) return wrong;
    }
  }
  return null;
}
