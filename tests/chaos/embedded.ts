import { type ChildProcess, spawn } from "node:child_process";
import { hash } from "node:crypto";
import { mkdirSync, writeFileSync } from "node:fs";
import { createServer } from "node:net";
import { join, resolve } from "node:path";
import { createInterface } from "node:readline";
import { waitFor } from "../log/contract.ts";

const TOKEN = "a-token-of-the-test";
const PATIENCE_MS = 60_000;
const ROOT = resolve(import.meta.dirname, "../..");

export interface EmbeddedSettings {
  /** Where the configuration and the data folder go. */
  folder: string;
  mostGigabytes?: number;
  /** What the process is started under, and what else the configuration says. */
  under?: readonly string[];
}

/** A supervisor's view of one real process with the embedded log: started, killed, started again. */
export class Embedded {
  readonly dataFolder: string;
  readonly url: string;
  /** Event names of the process's log lines, since it was started last. */
  events: string[] = [];
  private readonly config: string;
  private readonly under: readonly string[];
  private child: ChildProcess | null = null;
  private ended: Promise<number | null> = Promise.resolve(null);

  private constructor(settings: EmbeddedSettings, port: number) {
    const { folder } = settings;
    mkdirSync(folder, { recursive: true });
    this.dataFolder = join(folder, "data");
    this.config = join(folder, "live.yaml");
    this.under = settings.under ?? [];
    this.url = `http://127.0.0.1:${port}/feed`;
    writeFileSync(this.config, configText(settings, port));
  }

  static async make(settings: EmbeddedSettings): Promise<Embedded> {
    return new Embedded(settings, await freePort());
  }

  start(): void {
    const command = [...this.under, process.execPath, join(ROOT, "src/main.ts"), "live", "--config", this.config];
    this.events = [];
    const child = spawn(command[0]!, command.slice(1), { stdio: ["ignore", "ignore", "pipe"], cwd: ROOT });
    createInterface({ input: child.stderr! }).on("line", (line) => {
      const event = /"event":"([a-z-]+)"/.exec(line)?.[1];
      if (event !== undefined) this.events.push(event);
      else this.events.push(line);
    });
    this.child = child;
    this.ended = new Promise((done) => child.once("exit", (code) => done(code)));
  }

  /** Resolves when the process takes records. */
  async ready(): Promise<void> {
    await waitFor(() => this.events.includes("process-ready"), PATIENCE_MS);
  }

  /** Resolves with the exit status: null after SIGKILL. */
  async end(signal: "SIGKILL" | "SIGTERM"): Promise<number | null> {
    this.child?.kill(signal);
    return await this.ended;
  }

  get isRunning(): boolean {
    return this.child !== null && this.child.exitCode === null && this.child.signalCode === null;
  }

  /** Sends records once; the status of the answer, null when there was none. */
  async post(ndjson: string): Promise<number | null> {
    try {
      const response = await fetch(this.url, {
        method: "POST",
        headers: { authorization: `Bearer ${TOKEN}`, "content-type": "application/x-ndjson" },
        body: ndjson,
      });
      await response.arrayBuffer();
      return response.status;
    } catch {
      return null;
    }
  }
}

function configText({ mostGigabytes = 1 }: EmbeddedSettings, port: number): string {
  const demo = join(ROOT, "replay-data");
  return `
railroad: { line: ${demo}/line.yaml, rules: ${demo}/rules/standard, time: feed }
dataFolder: data
log: { embedded: { mostGigabytes: ${mostGigabytes} } }
feed: { http: { port: ${port}, tokens: [{ name: test, sha256: ${hash("sha256", TOKEN)} }] } }
telemetry: { port: 0 }
`;
}

async function freePort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((done) => server.listen(0, "127.0.0.1", done));
  const { port } = server.address() as { port: number };
  await new Promise((done) => server.close(done));
  return port;
}
