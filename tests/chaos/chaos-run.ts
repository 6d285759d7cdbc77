import { randomUUID } from "node:crypto";
import { mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import { Cluster } from "../../src/log/kafka/cluster.ts";
import { kafkaConfig } from "../../src/log/kafka/kafka-config.ts";
import { KafkaLog } from "../../src/log/kafka/kafka-log.ts";
import { type KafkaSettings, positionsGroup } from "../../src/log/kafka/settings.ts";
import { lookAtTopics } from "../../src/log/kafka/topic-admin.ts";
import type { Log } from "../../src/log/log.ts";
import { INBOUND, partitionsOf } from "../../src/log/topics.ts";
import { Random } from "../../src/simulate/random.ts";
import { silentLogger } from "../../src/telemetry/logger.ts";
import type { Broker } from "../broker/broker.ts";
import { check, type Verdict } from "./checker.ts";
import { committedPositions, notRising } from "./committed-positions.ts";
import { recordedStretch, sendOver } from "./feed.ts";
import { type Berth, startFleet } from "./fleet.ts";

export type FaultKind = "kill" | "stop" | "cut" | "terminate" | "broker";

export interface ChaosOptions {
  seed: number;
  faults: number;
  /** Hours of the recorded day that go through. */
  fromHour: number;
  hours: number;
  /** A line for whoever watches. */
  say?: (words: string) => void;
}

export interface ChaosResult extends Verdict {
  faults: Record<FaultKind, number>;
  /** How often a process was started, over all. */
  starts: number;
  commits: number;
  /** From the last fault until everything was folded. */
  caughtUpMs: number;
}

const PROCESSES = 2;
const PARTITIONS = { "axle-readings": 4, "site-reports": 4, consists: 1, "desk-actions": 1, passes: 4 } as const;
const SESSION_S = 3;
const SESSION_MS = SESSION_S * 1_000;
/** Of every so many faults one takes the broker away: the others are about what processes do to each other. */
const BROKER_EVERY = 10;
/** Between two faults: time enough for a take-over to be under way, often not for it to be done. */
const MOST_PAUSE_MS = 3_000;
/** So that the feed lasts about as long as the faults do. */
const FEED_MS_A_FAULT = 2_500;
const BROKER_AWAY_MS = 2_000;
const CATCH_UP_MS = 180_000;
const SETTLED_MS = 4_000;

/** Runs two processes over a recorded stretch while everything happens to them, and then holds the log against a plain run. */
export async function chaosRun(broker: Broker, { seed, faults, fromHour, hours, say = () => {} }: ChaosOptions): Promise<ChaosResult> {
  const name = randomUUID().slice(0, 8);
  const config = kafkaConfig.parse({
    brokers: broker.brokers,
    application: `chaos-${name}`,
    topicPrefix: `chaos-${name}.`,
    partitions: PARTITIONS,
    replicas: 1,
  });
  const { brokers, application, topicPrefix } = config;
  await lookAtTopics(config, silentLogger(), true);
  const settings: KafkaSettings = { brokers, application, topicPrefix, sessionTimeoutMs: SESSION_MS * 2 };
  const log = new KafkaLog(settings, silentLogger());
  const folder = await mkdtemp(join(process.env["CHAOS_FOLDER"] ?? tmpdir(), "chaos-"));
  const fleet = startFleet({ folder, brokers, application, topicPrefix, processes: PROCESSES, sessionTimeoutSeconds: SESSION_S });
  try {
    const feed = await recordedStretch(fromHour, hours, partitionsOf(PARTITIONS));
    let sent = false;
    const sending = sendOver(log, feed, faults * FEED_MS_A_FAULT, () => true).then(() => {
      sent = true;
    });
    const counted = await strike(fleet, broker, plan(seed, faults, broker.kill !== undefined), () => sent, say);
    await sending;
    const beganMs = performance.now();
    await caughtUp(log, settings);
    const caughtUpMs = performance.now() - beganMs - SETTLED_MS;
    say(`caught up after ${Math.round(caughtUpMs)} ms; checking`);
    const starts = fleet.reduce((sum, berth) => sum + berth.starts, 0);
    await Promise.all(fleet.map((berth) => berth.close()));
    const verdict = await check(log);
    const commits = await committedPositions(brokers, application);
    const falling = notRising(commits);
    if (falling !== null) verdict.wrong.push(falling);
    return { ...verdict, faults: counted, starts, commits: commits.length, caughtUpMs };
  } finally {
    await Promise.all(fleet.map((berth) => berth.close()));
    await log.close();
    // What the processes wrote is kept when CHAOS_FOLDER says where.
    if (process.env["CHAOS_FOLDER"] === undefined) await rm(folder, { recursive: true, force: true });
  }
}

interface Fault {
  kind: FaultKind;
  pauseMs: number;
  /** Which process. */
  at: number;
  /** How long it lasts, beyond what it needs. */
  extraMs: number;
}

/** Same seed, same faults at the same distances; where they strike the program is up to the machine. */
export function plan(seed: number, faults: number, withBroker: boolean): Fault[] {
  const random = new Random(seed, "chaos");
  const kinds: FaultKind[] = ["kill", "stop", "cut", "kill", "cut", "stop", "terminate", "kill", "cut"];
  return Array.from({ length: faults }, (_, at) => ({
    kind: withBroker && at % BROKER_EVERY === BROKER_EVERY - 1 ? ("broker" as const) : kinds[Math.floor(random.unit() * kinds.length)]!,
    pauseMs: random.unit() * MOST_PAUSE_MS,
    at: random.below(PROCESSES),
    extraMs: random.unit() * BROKER_AWAY_MS,
  }));
}

async function strike(
  fleet: readonly Berth[],
  broker: Broker,
  faults: readonly Fault[],
  sent: () => boolean,
  say: (words: string) => void,
): Promise<Record<FaultKind, number>> {
  const counted: Record<FaultKind, number> = { kill: 0, stop: 0, cut: 0, terminate: 0, broker: 0 };
  const lasting: Promise<unknown>[] = [];
  for (const { kind, pauseMs, at, extraMs } of faults) {
    await sleep(pauseMs);
    const berth = fleet[at]!;
    // A fault on a process that is just being started again would be none.
    while (berth.pid === undefined) await sleep(50);
    counted[kind]++;
    say(`${kind} ${kind === "broker" ? "" : berth.name}${sent() ? " (everything is sent)" : ""}`);
    if (kind === "kill") berth.signal("SIGKILL");
    else if (kind === "cut") berth.signal("SIGUSR2");
    else if (kind === "terminate") berth.signal("SIGTERM");
    else if (kind === "broker") {
      await broker.kill!();
      await sleep(extraMs);
      await broker.start!();
    } else {
      berth.signal("SIGSTOP");
      // The group gives its partitions to the others meanwhile; it wakes up and knows nothing of it.
      lasting.push(sleep(SESSION_MS + 500 + extraMs).then(() => berth.signal("SIGCONT")));
    }
  }
  await Promise.all(lasting);
  return counted;
}

/** Until every input partition is committed to its end; of `passes`, which ends in markers, until nothing moves any more. */
async function caughtUp(log: Log, settings: KafkaSettings): Promise<void> {
  const cluster = new Cluster(settings, silentLogger());
  const deadlineMs = performance.now() + CATCH_UP_MS;
  let before = "";
  let sinceMs = performance.now();
  for (;;) {
    const positions = new Map<string, number>();
    for (const stage of ["assemble", "follow"]) {
      const asked = { groupId: positionsGroup(settings, stage) };
      for (const { topic, partitions } of await cluster.ask("positions", (admin) => admin.fetchOffsets(asked))) {
        for (const { partition, offset } of partitions) positions.set(`${topic}/${partition}`, Number(offset));
      }
    }
    let behind = "";
    for (const topic of INBOUND) {
      for (const { partition, end } of await log.extent(topic)) {
        const position = positions.get(`${settings.topicPrefix}${topic}/${partition}`) ?? 0;
        // Not a number: a commit is under way.
        if (!(position >= end)) behind = `${topic}/${partition} stands at ${position} of ${end}`;
      }
    }
    const now = JSON.stringify([...positions]);
    if (now !== before || behind !== "") sinceMs = performance.now();
    before = now;
    if (performance.now() - sinceMs > SETTLED_MS) break;
    if (performance.now() > deadlineMs) throw new Error(`not caught up within ${CATCH_UP_MS} ms: ${behind || "positions still move"}`);
    await sleep(250);
  }
  await cluster.close();
}
