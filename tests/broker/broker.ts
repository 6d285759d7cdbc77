import { spawnSync } from "node:child_process";
import type { ConnectionOptions } from "node:tls";
import type { SASLOptions } from "kafkajs";
import { getContainerRuntimeClient } from "testcontainers";
import { startContainerBroker } from "./container-broker.ts";
import { startJvmBroker } from "./jvm-broker.ts";

/** A real broker, for as long as one test file needs it. */
export interface Broker {
  /** Bootstrap addresses. */
  readonly brokers: string[];
  readonly kind: BrokerKind;
  /** SIGKILL; what was acknowledged must be there after `start`. Absent on a cluster that is not ours. */
  kill?(): Promise<void>;
  /** Starts it again after `kill`, at the same address, on the same data. */
  start?(): Promise<void>;
  stop(): Promise<void>;
}

export type BrokerKind = "given" | "container" | "jvm";

export interface BrokerOptions {
  /** Server properties over those of `serverProperties`. */
  properties?: Readonly<Record<string, string>>;
  /** More words for the storage formatter, such as `--add-scram`. */
  format?: readonly string[];
  /** Clients must use TLS and log in; this is how whoever starts the broker asks whether it is ready. */
  secured?: { ssl: ConnectionOptions; sasl: SASLOptions };
  /** The test restarts or reconfigures the broker: a cluster given by KAFKA_BROKERS will not do. */
  own?: boolean;
}

/**
 * Which broker this machine can give, or why none. `own`: one that may be restarted and configured. TEST_BROKER=jvm leaves
 * containers out where the engine is there but of no use.
 */
export async function brokerKind(own = false): Promise<{ kind: BrokerKind } | { reason: string }> {
  if (!own && process.env["KAFKA_BROKERS"]) return { kind: "given" };
  if (process.env["TEST_BROKER"] !== "jvm" && (await dockerAnswers())) return { kind: "container" };
  if (hasJava() && hasMaven()) return { kind: "jvm" };
  const reason = `no broker for tests: ${own ? "" : "KAFKA_BROKERS is not set, "}no Docker engine answers, and there is no Java 17 with Maven`;
  if (process.env["CI"] === "true") throw new Error(`${reason}. With CI=true the tests on a broker must run.`);
  console.warn(`Skipped: ${reason}.`);
  return { reason };
}

/** Starts the broker that `brokerKind` promised. */
export async function startBroker(options: BrokerOptions = {}): Promise<Broker> {
  const found = await brokerKind(options.own === true);
  if ("reason" in found) throw new Error(found.reason);
  if (found.kind === "container") return startContainerBroker(options);
  if (found.kind === "jvm") return startJvmBroker(options);
  return { kind: "given", brokers: process.env["KAFKA_BROKERS"]!.split(","), stop: async () => {} };
}

async function dockerAnswers(): Promise<boolean> {
  try {
    await getContainerRuntimeClient();
    return true;
  } catch {
    return false;
  }
}

function hasJava(): boolean {
  const { stderr } = spawnSync("java", ["-version"], { encoding: "utf8" });
  const major = Number(/version "(\d+)/.exec(stderr ?? "")?.[1] ?? 0);
  return major >= 17;
}

function hasMaven(): boolean {
  return spawnSync("mvn", ["-v"], { stdio: "ignore" }).status === 0;
}
