import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { closeSync, mkdirSync, openSync, readFileSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { setTimeout as sleep } from "node:timers/promises";

/** Between a process's end and the next one's start: what a supervisor takes. */
const RESTART_MS = 200;
const CUTTABLE = resolve(import.meta.dirname, "cuttable.ts");
const MAIN = resolve(import.meta.dirname, "../../src/main.ts");

/** One place at which a supervisor keeps a `bearing-rise live` running. */
export class Berth {
  readonly name: string;
  /** How often the process was started. */
  starts = 0;
  private readonly config: string;
  private readonly log: string;
  private child: ChildProcess | null = null;
  private closing = false;
  private running: Promise<void>;

  constructor(name: string, folder: string, config: string) {
    this.name = name;
    this.config = config;
    this.log = join(folder, `${name}.log`);
    this.running = this.supervise();
  }

  get pid(): number | undefined {
    return this.child?.exitCode === null && this.child.signalCode === null ? this.child.pid : undefined;
  }

  signal(signal: NodeJS.Signals): void {
    this.child?.kill(signal);
  }

  /** Lines that the processes of this berth wrote. */
  lines(): string[] {
    return readFileSync(this.log, "utf8").split("\n");
  }

  /** Kills it without ado. */
  async close(): Promise<void> {
    this.closing = true;
    this.child?.kill("SIGKILL");
    this.child?.kill("SIGCONT");
    await this.running;
  }

  private async supervise(): Promise<void> {
    while (!this.closing) {
      const out = openSync(this.log, "a");
      const flags = ["--disable-warning=ExperimentalWarning", "--import", CUTTABLE, MAIN, "live", "--config", this.config];
      this.child = spawn(process.execPath, flags, { stdio: ["ignore", out, out] });
      this.starts++;
      closeSync(out);
      await once(this.child, "exit");
      if (!this.closing) await sleep(RESTART_MS);
    }
  }
}

export interface FleetOptions {
  folder: string;
  brokers: readonly string[];
  application: string;
  topicPrefix: string;
  processes: number;
  sessionTimeoutSeconds: number;
}

/** Processes over one Kafka, each with a data folder of its own, as on machines of their own. */
export function startFleet({ folder, processes, ...kafka }: FleetOptions): Berth[] {
  return Array.from({ length: processes }, (_, at) => {
    const name = `process-${at + 1}`;
    mkdirSync(join(folder, name), { recursive: true });
    const config = join(folder, `${name}.yaml`);
    writeFileSync(config, configOf(join(folder, name), kafka));
    return new Berth(name, folder, config);
  });
}

function configOf(dataFolder: string, kafka: Omit<FleetOptions, "folder" | "processes">): string {
  return JSON.stringify({
    railroad: { line: resolve("replay-data/line.yaml"), rules: resolve("replay-data/rules/standard"), time: "feed" },
    dataFolder,
    log: { kafka },
    telemetry: { port: 0 },
  });
}
