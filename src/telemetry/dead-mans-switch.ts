import { createServer, type IncomingMessage, type Server, type ServerResponse } from "node:http";
import type { AddressInfo } from "node:net";
import { pathToFileURL } from "node:url";
import { parseArgs } from "node:util";
import { createLogger, type Logger } from "./logger.ts";

/**
 * The other end of the watchdog: Alertmanager sends the alert `Watchdog` here over and over as long as a heartbeat comes
 * through the whole pipeline. When none has come for `silenceMs`, something on the way is dead (bearing-rise, Prometheus,
 * Alertmanager or the network) and the switch tells, once, and again when the heartbeat is back.
 *
 * Run it on another machine: node src/telemetry/dead-mans-switch.ts --host 0.0.0.0 --silence-seconds 180 --tell https://...
 * Until a pager is configured, it also takes pages and tickets and writes them to its log.
 */
export const SWITCH_PORT = 9_465;
export const SILENCE_SECONDS = 180;

/** A timer of Node's holds no more than 24.8 days; a day of silence is far too long already. */
const MOST_SILENCE_MS = 86_400_000;
/** Alertmanager groups alerts; a group is far smaller. */
const MOST_BODY_BYTES = 1_048_576;
const MOST_CONNECTIONS = 32;
const REQUEST_MS = 10_000;
/** How often telling is tried, and how long each try may take. */
const TELL_TRIES = 5;
const TELL_MS = 10_000;
const FIRST_PAUSE_MS = 500;

export interface SwitchConfig {
  host: string;
  /** 0: any free one. */
  port: number;
  silenceMs: number;
  /** Where to POST `{"state":"silent"|"back","since":...,"words":...}`; null: only the log tells. */
  tell: string | null;
}

export interface DeadMansSwitch {
  readonly port: number;
  readonly url: string;
  close(): Promise<void>;
}

interface Alert {
  status: string;
  labels: Record<string, string>;
  annotations: Record<string, string>;
}

/** Opens the switch, armed from the start: a watchdog that never comes is told as well. Rejects when the port is taken. */
export async function startSwitch(config: SwitchConfig, logger: Logger): Promise<DeadMansSwitch> {
  const watch = new SilenceWatch(config, logger);
  const server = createServer(
    { requestTimeout: REQUEST_MS, headersTimeout: REQUEST_MS, keepAliveTimeout: REQUEST_MS },
    (request, response) => {
      answer(request, response, watch, logger).catch((error: unknown) => {
        if (!response.headersSent) response.writeHead(error instanceof UnreadableBody ? 400 : 500, { connection: "close" });
        response.end(() => request.destroy());
      });
    },
  );
  server.maxConnections = MOST_CONNECTIONS;
  await listening(server, config);
  const { port } = server.address() as AddressInfo;
  watch.arm();
  logger.info("switch-armed", `tells after ${config.silenceMs / 1_000} s without a watchdog`, { port, silenceMs: config.silenceMs });
  return {
    port,
    url: `http://${config.host}:${port}`,
    close: async () => {
      watch.disarm();
      await new Promise<void>((resolve) => {
        server.close(() => resolve());
        server.closeAllConnections();
      });
    },
  };
}

function listening(server: Server, { host, port }: SwitchConfig): Promise<void> {
  return new Promise((resolve, reject) => {
    server.once("error", reject);
    server.listen(port, host, () => {
      server.off("error", reject);
      resolve();
    });
  });
}

/** Armed until silence, silent until the next watchdog, then armed again. */
class SilenceWatch {
  readonly #config: SwitchConfig;
  readonly #logger: Logger;
  #timer: NodeJS.Timeout | undefined;
  #heardMs = Date.now();
  silent = false;

  constructor(config: SwitchConfig, logger: Logger) {
    this.#config = config;
    this.#logger = logger;
  }

  arm(): void {
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.#fire(), this.#config.silenceMs);
  }

  disarm(): void {
    clearTimeout(this.#timer);
  }

  heard(): void {
    const since = this.#heardMs;
    this.#heardMs = Date.now();
    this.arm();
    if (!this.silent) return;
    this.silent = false;
    this.#logger.info("switch-recovered", "the watchdog is back", { since: new Date(since) });
    void this.#tell("back", since, "The heartbeat of bearing-rise comes through again.");
  }

  #fire(): void {
    this.silent = true;
    const words = `No heartbeat of bearing-rise has come through for ${this.#config.silenceMs / 1_000} s: warnings may not reach anybody.`;
    this.#logger.error("switch-fired", words, { since: new Date(this.#heardMs) });
    void this.#tell("silent", this.#heardMs, words);
  }

  async #tell(state: "silent" | "back", sinceMs: number, words: string): Promise<void> {
    const { tell } = this.#config;
    if (tell === null) return;
    const body = JSON.stringify({ state, since: new Date(sinceMs).toISOString(), words });
    for (let tried = 1; tried <= TELL_TRIES; tried++) {
      try {
        const signal = AbortSignal.timeout(TELL_MS);
        const answered = await fetch(tell, { method: "POST", headers: { "content-type": "application/json" }, body, signal });
        if (answered.ok) return;
        this.#logger.error("switch-untold", `the receiver answered ${answered.status}`, { state, tried });
      } catch (error) {
        this.#logger.error("switch-untold", "the receiver could not be reached", { state, tried, error });
      }
      await new Promise((resolve) => setTimeout(resolve, FIRST_PAUSE_MS * 2 ** tried).unref());
    }
  }
}

class UnreadableBody extends Error {}

async function answer(request: IncomingMessage, response: ServerResponse, watch: SilenceWatch, logger: Logger): Promise<void> {
  if (request.method === "GET" && request.url === "/health") {
    response.writeHead(watch.silent ? 503 : 200).end(watch.silent ? "silent\n" : "heard\n");
    return;
  }
  const path = request.url ?? "";
  if (!["/watchdog", "/page", "/ticket"].includes(path)) return void response.writeHead(404).end();
  if (request.method !== "POST") return void response.writeHead(405, { allow: "POST" }).end();
  const alerts = await alertsOf(request);
  if (path === "/watchdog") {
    if (alerts.some(({ status }) => status === "firing")) watch.heard();
  } else {
    for (const { status, labels, annotations } of alerts) {
      logger.warn("alert-received", `${status}: ${annotations["summary"] ?? labels["alertname"]}`, { path, status, labels, annotations });
    }
  }
  response.writeHead(200).end();
}

/** The alerts of Alertmanager's message. Beyond the bound nothing is kept, and the sender is hung up on after its answer. */
async function alertsOf(request: IncomingMessage): Promise<Alert[]> {
  const parts: Buffer[] = [];
  let bytes = 0;
  await new Promise<void>((resolve, reject) => {
    request.on("data", (part: Buffer) => {
      bytes += part.length;
      if (bytes <= MOST_BODY_BYTES) parts.push(part);
      else reject(new UnreadableBody());
    });
    request.on("end", resolve);
    request.on("error", reject);
  });
  try {
    const body = JSON.parse(Buffer.concat(parts).toString("utf8")) as { alerts?: unknown };
    if (!Array.isArray(body.alerts)) throw new UnreadableBody();
    return (body.alerts as Partial<Alert>[]).map(({ status = "", labels = {}, annotations = {} }) => ({ status, labels, annotations }));
  } catch {
    throw new UnreadableBody();
  }
}

const USAGE = `Usage: node src/telemetry/dead-mans-switch.ts [options]

Tells when no heartbeat of bearing-rise has come through Prometheus and Alertmanager for a while, and when it is back. Run it on
another machine; Alertmanager sends to its /watchdog.

Options:
  --host <name>            where it listens (default: 127.0.0.1)
  --port <number>          (default: ${SWITCH_PORT})
  --silence-seconds <s>    how long is too long (default: ${SILENCE_SECONDS})
  --tell <url>             where it is told, by POST; left out: in its log alone

Example:
  node src/telemetry/dead-mans-switch.ts --host 0.0.0.0 --silence-seconds 180 --tell https://pager.example/hook
`;

const WRONG_USAGE = 2;

/** What the command line asks for; null where it is asked how to ask. @throws Error that says what is wrong */
export function switchAsked(args: string[]): SwitchConfig | null {
  const { values } = parseArgs({
    args,
    options: {
      host: { type: "string", default: "127.0.0.1" },
      port: { type: "string", default: String(SWITCH_PORT) },
      "silence-seconds": { type: "string", default: String(SILENCE_SECONDS) },
      tell: { type: "string" },
      help: { type: "boolean", short: "h", default: false },
    },
  });
  if (values.help) return null;
  const silenceMs = Number(values["silence-seconds"]) * 1_000;
  const port = Number(values.port);
  if (!(silenceMs > 0 && silenceMs <= MOST_SILENCE_MS))
    throw new Error(`--silence-seconds takes a number above 0 and up to ${MOST_SILENCE_MS / 1_000}`);
  if (!(Number.isInteger(port) && port >= 0 && port <= 65_535)) throw new Error("--port takes a whole number from 0 to 65535");
  const tell = values.tell ?? null;
  // Found out at the first silence it would be too late.
  if (tell !== null && !/^https?:$/.test(URL.parse(tell)?.protocol ?? ""))
    throw new Error("--tell takes a whole address, as in https://pager.example/hook");
  return { host: values.host, port, silenceMs, tell };
}

function askedOrEnd(args: string[]): SwitchConfig {
  try {
    const asked = switchAsked(args);
    if (asked !== null) return asked;
    process.stdout.write(USAGE);
    process.exit(0);
  } catch (error) {
    process.stderr.write(`${(error as Error).message}\nAdd "--help" for what it takes, with an example.\n`);
    process.exit(WRONG_USAGE);
  }
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? "").href) {
  const asked = askedOrEnd(process.argv.slice(2));
  const running = await startSwitch(asked, createLogger());
  for (const signal of ["SIGINT", "SIGTERM"] as const) process.once(signal, () => void running.close());
}
