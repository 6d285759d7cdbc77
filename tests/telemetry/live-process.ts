import { createHash } from "node:crypto";
import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { stringify } from "yaml";
import { demoRailroad } from "../flow/folded.ts";
import { freePort, Program } from "./monitoring.ts";

const ROOT = fileURLToPath(new URL("../../", import.meta.url));
const FAST_CLOCK = fileURLToPath(new URL("./fast-clock.ts", import.meta.url));
const TOKEN = "only-for-this-test";

/** How much faster the clock of the process runs, and how often sites send: once a minute of it. */
export const FACTOR = 20;
export const INTERVAL_MS = 60_000 / FACTOR;

/** `bearing-rise live` with the embedded log, and sites that send heartbeats to it. */
export class LiveProcess {
  readonly telemetryPort: number;
  program: Program;
  readonly alive: Set<string>;
  readonly #folder: string;
  readonly #feedPort: number;
  readonly #from = Date.now();
  readonly #beating: NodeJS.Timeout;

  private constructor(folder: string, telemetryPort: number, feedPort: number) {
    this.#folder = folder;
    this.telemetryPort = telemetryPort;
    this.#feedPort = feedPort;
    this.alive = new Set(demoRailroad().sites.keys());
    mkdirSync(folder, { recursive: true });
    writeFileSync(join(folder, "live.yaml"), this.#config());
    this.program = this.#spawn();
    this.#beating = setInterval(() => void this.#beat(), INTERVAL_MS);
  }

  static async start(folder: string): Promise<LiveProcess> {
    const live = new LiveProcess(folder, await freePort(), await freePort());
    await live.#ready();
    return live;
  }

  get url(): string {
    return `http://127.0.0.1:${this.telemetryPort}`;
  }

  /** The same process again, over the same data. */
  async again(): Promise<void> {
    this.program = this.#spawn();
    await this.#ready();
  }

  async stop(): Promise<void> {
    clearInterval(this.#beating);
    await this.program.kill();
  }

  /** What a scrape says of a metric. */
  async told(name: string): Promise<string[]> {
    const text = await (await fetch(`${this.url}/metrics`)).text();
    return text.split("\n").filter((line) => line.startsWith(`bearing_rise_${name}`));
  }

  #config(): string {
    return stringify({
      railroad: { line: `${ROOT}replay-data/line.yaml`, rules: `${ROOT}replay-data/rules/standard` },
      dataFolder: join(this.#folder, "data"),
      feed: { http: { port: this.#feedPort, tokens: [{ name: "sites", sha256: createHash("sha256").update(TOKEN).digest("hex") }] } },
      telemetry: { port: this.telemetryPort },
    });
  }

  #spawn(): Program {
    const args = ["--import", FAST_CLOCK, `${ROOT}src/main.ts`, "live", "--config", join(this.#folder, "live.yaml")];
    return new Program(process.execPath, args, { ...process.env, FAST_FROM: String(this.#from), FAST_FACTOR: String(FACTOR) });
  }

  #ready(): Promise<void> {
    return this.program.ready(`${this.url}/health/ready`);
  }

  /** One heartbeat of every site that lives. While the process is down they are lost, as they would be. */
  async #beat(): Promise<void> {
    const time = new Date(this.#from + (Date.now() - this.#from) * FACTOR).toISOString();
    const lines = [...this.alive].map((site) =>
      JSON.stringify({ topic: "site-reports", key: site, value: { type: "heartbeat", site, time, ambient: 54, supplyVolts: 13.2 } }),
    );
    await fetch(`http://127.0.0.1:${this.#feedPort}/feed`, {
      method: "POST",
      headers: { "content-type": "application/x-ndjson", authorization: `Bearer ${TOKEN}` },
      body: `${lines.join("\n")}\n`,
    }).catch(() => {});
  }
}
