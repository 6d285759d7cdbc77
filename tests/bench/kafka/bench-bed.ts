import { type ChildProcess, spawn } from "node:child_process";
import { randomUUID } from "node:crypto";
import { once } from "node:events";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { type KafkaConfig, kafkaConfig } from "../../../src/log/kafka/kafka-config.ts";
import { KafkaLog } from "../../../src/log/kafka/kafka-log.ts";
import type { KafkaSettings } from "../../../src/log/kafka/settings.ts";
import { lookAtTopics } from "../../../src/log/kafka/topic-admin.ts";
import type { TopicName } from "../../../src/log/topics.ts";
import { silentLogger } from "../../../src/telemetry/logger.ts";

const MAIN = resolve(import.meta.dirname, "../../../src/main.ts");
/** Flags and surroundings are those of the launcher (`src/bearing-rise.js`). */
const FLAGS = ["--disable-warning=ExperimentalWarning", "--heap-growing-percent=30", "--max-semi-space-size=8"];
const SURROUNDINGS = {
  MALLOC_ARENA_MAX: "1",
  MALLOC_TRIM_THRESHOLD_: "131072",
  NODE_COMPILE_CACHE: resolve(import.meta.dirname, "../../../node_modules/.cache/bearing-rise"),
};
const TICKS_A_SECOND = 100;

/** Fresh topics on a broker, a configuration of `bearing-rise live` over them, and a log to feed and watch it with. */
export class BenchBed {
  readonly config: KafkaConfig;
  readonly settings: KafkaSettings;
  readonly log: KafkaLog;
  private readonly folder = mkdtempSync(join(tmpdir(), "kafka-bench-"));
  private readonly file = join(this.folder, "live.yaml");
  private child: ChildProcess | null = null;

  private constructor(config: KafkaConfig, line: string, time: "arrival" | "feed") {
    this.config = config;
    const { brokers, application, topicPrefix } = config;
    this.settings = { brokers, application, topicPrefix, sessionTimeoutMs: 6_000 };
    this.log = new KafkaLog(this.settings, silentLogger(), 256 * 1024 * 1024);
    const live = {
      railroad: { line, rules: resolve("replay-data/rules/standard"), time },
      dataFolder: this.folder,
      log: { kafka: { brokers, application, topicPrefix } },
      telemetry: { port: 0, log: { level: "warn" } },
    };
    writeFileSync(this.file, JSON.stringify(live));
  }

  static async make(
    brokers: readonly string[],
    line: string,
    time: "arrival" | "feed",
    partitions: Partial<Record<TopicName, number>> = {},
  ): Promise<BenchBed> {
    const name = `bench-${randomUUID().slice(0, 8)}`;
    const config = kafkaConfig.parse({ brokers, application: name, topicPrefix: `${name}.`, partitions, replicas: 1 });
    await lookAtTopics(config, silentLogger(), true);
    return new BenchBed(config, resolve(line), time);
  }

  /** Starts `bearing-rise live`. */
  start(): void {
    const args = [...FLAGS, MAIN, "live", "--config", this.file];
    this.child = spawn(process.execPath, args, { stdio: ["ignore", "ignore", "inherit"], env: { ...SURROUNDINGS, ...process.env } });
  }

  signal(signal: NodeJS.Signals): void {
    this.child?.kill(signal);
  }

  async ended(): Promise<void> {
    const { child } = this;
    if (child !== null && child.exitCode === null && child.signalCode === null) await once(child, "exit");
  }

  /** Of the process: CPU seconds so far, resident megabytes now and at most. */
  usage(): { cpuSeconds: number; residentMb: number; mostResidentMb: number } {
    const stat = readFileSync(`/proc/${this.child!.pid}/stat`, "utf8").split(") ")[1]!.split(" ");
    const status = readFileSync(`/proc/${this.child!.pid}/status`, "utf8");
    const megabytes = (field: string) => Number(new RegExp(`${field}:\\s+(\\d+)`).exec(status)![1]) / 1_024;
    return {
      cpuSeconds: (Number(stat[11]) + Number(stat[12])) / TICKS_A_SECOND,
      residentMb: megabytes("VmRSS"),
      mostResidentMb: megabytes("VmHWM"),
    };
  }

  async close(): Promise<void> {
    this.child?.kill("SIGKILL");
    await this.ended();
    await this.log.close();
    rmSync(this.folder, { recursive: true, force: true });
  }
}
