import { type ChildProcess, spawn } from "node:child_process";
import { cpSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { createServer } from "node:http";
import { type AddressInfo, createServer as createTcpServer } from "node:net";
import { join } from "node:path";
import { setTimeout as pause } from "node:timers/promises";
import { parse, stringify } from "yaml";
import { DEPLOY } from "./deployed.ts";

/** How often Prometheus asks and judges, and how soon Alertmanager sends: deployed 10 s each, here a second. */
const STEP = "1s";
const LOOK_MS = 50;

/** Waits for a fact, not for a time: answers as soon as `look` gives something; fails after `withinMs` with what `said` tells. */
export async function until<T>(
  what: string,
  withinMs: number,
  look: () => Promise<T | null> | T | null,
  said: () => string = () => "",
): Promise<T> {
  const since = performance.now();
  for (;;) {
    const seen = await look();
    if (seen !== null) return seen;
    if (performance.now() - since > withinMs) throw new Error(`not within ${withinMs / 1_000} s: ${what}\n${said()}`);
    await pause(LOOK_MS);
  }
}

export async function freePort(): Promise<number> {
  const server = createTcpServer();
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
  const { port } = server.address() as AddressInfo;
  await new Promise((resolve) => server.close(resolve));
  return port;
}

/** A process of a test: what it said is kept, and it is gone when the test is. */
export class Program {
  readonly child: ChildProcess;
  said = "";

  constructor(command: string, args: readonly string[], env: NodeJS.ProcessEnv = process.env) {
    this.child = spawn(command, args, { stdio: ["pipe", "pipe", "pipe"], env });
    for (const stream of [this.child.stdout, this.child.stderr]) {
      stream?.on("data", (part: Buffer) => {
        this.said = (this.said + part.toString("utf8")).slice(-20_000);
      });
    }
  }

  async kill(signal: NodeJS.Signals = "SIGKILL"): Promise<void> {
    if (this.child.exitCode !== null || this.child.signalCode !== null) return;
    const gone = new Promise((resolve) => this.child.once("exit", resolve));
    this.child.kill(signal);
    await gone;
  }

  /** Ready when the address answers. */
  async ready(url: string, withinMs = 30_000): Promise<void> {
    await until(
      `${url} answers`,
      withinMs,
      () =>
        fetch(url)
          .then(({ ok }) => (ok ? true : null))
          .catch(() => null),
      () => this.said,
    );
  }
}

interface Alert {
  status: "firing" | "resolved";
  labels: Record<string, string>;
  annotations: Record<string, string>;
}

/** Where pages, tickets and the switch's word arrive. */
export class Receiver {
  readonly alerts: (Alert & { path: string; atMs: number })[] = [];
  readonly told: { state: string; atMs: number }[] = [];
  readonly #server = createServer((request, response) => {
    let body = "";
    request.on("data", (part: Buffer) => {
      body += part.toString("utf8");
    });
    request.on("end", () => {
      response.end();
      const sent = JSON.parse(body) as { alerts?: Alert[]; state?: string };
      const atMs = performance.now();
      if (sent.state !== undefined) this.told.push({ state: sent.state, atMs });
      for (const alert of sent.alerts ?? []) this.alerts.push({ ...alert, path: request.url ?? "", atMs });
    });
  });

  async open(): Promise<string> {
    await new Promise<void>((resolve) => this.#server.listen(0, "127.0.0.1", resolve));
    return `http://127.0.0.1:${(this.#server.address() as AddressInfo).port}`;
  }

  async close(): Promise<void> {
    this.#server.closeAllConnections();
    await new Promise((resolve) => this.#server.close(resolve));
  }

  find(alertname: string, status: Alert["status"], site?: string) {
    return this.alerts.find(
      ({ status: is, labels }) => is === status && labels["alertname"] === alertname && (site === undefined || labels["site"] === site),
    );
  }
}

interface AlertmanagerConfig {
  route: { routes: Record<string, unknown>[] } & Record<string, unknown>;
  receivers: { name: string; webhook_configs: { url: string }[] }[];
}

/** The deployed Alertmanager with the deployed routes; only addresses and waits are others. */
export async function startAlertmanager(
  folder: string,
  receiverUrl: string,
  switchUrl: string,
): Promise<{ program: Program; address: string }> {
  const config = parse(readFileSync(`${DEPLOY}alertmanager/alertmanager.yml`, "utf8")) as AlertmanagerConfig;
  for (const { webhook_configs } of config.receivers) {
    for (const hook of webhook_configs) {
      const { pathname } = new URL(hook.url);
      hook.url = (pathname === "/watchdog" ? switchUrl : receiverUrl) + pathname;
    }
  }
  for (const route of [config.route, ...config.route.routes]) {
    for (const wait of ["group_wait", "group_interval"]) if (wait in route) route[wait] = STEP;
    if (route["receiver"] === "watchdog") route["repeat_interval"] = STEP;
  }
  mkdirSync(folder, { recursive: true });
  const path = join(folder, "alertmanager.yml");
  writeFileSync(path, stringify(config));
  const address = `127.0.0.1:${await freePort()}`;
  const program = new Program("prometheus-alertmanager", [
    `--config.file=${path}`,
    `--storage.path=${join(folder, "data")}`,
    `--web.listen-address=${address}`,
    "--cluster.listen-address=",
  ]);
  await program.ready(`http://${address}/-/ready`);
  return { program, address };
}

interface PrometheusConfig {
  global: Record<string, string>;
  alerting: { alertmanagers: { static_configs: { targets: string[] }[] }[] };
  scrape_configs: { job_name: string; static_configs: { targets: string[] }[] }[];
}

/** The deployed Prometheus with the deployed rules; only addresses and intervals are others. */
export async function startPrometheus(
  folder: string,
  target: string,
  alertmanager: string,
): Promise<{ program: Program; address: string }> {
  mkdirSync(folder, { recursive: true });
  cpSync(`${DEPLOY}prometheus/rules`, join(folder, "rules"), { recursive: true });
  const config = parse(readFileSync(`${DEPLOY}prometheus/prometheus.yml`, "utf8")) as PrometheusConfig;
  Object.assign(config.global, { scrape_interval: STEP, scrape_timeout: STEP, evaluation_interval: STEP });
  config.alerting.alertmanagers = [{ static_configs: [{ targets: [alertmanager] }] }];
  const ours = config.scrape_configs.filter(({ job_name }) => job_name === "bearing-rise");
  for (const job of ours) job.static_configs = [{ targets: [target] }];
  const path = join(folder, "prometheus.yml");
  writeFileSync(path, stringify({ ...config, scrape_configs: ours }));
  const address = `127.0.0.1:${await freePort()}`;
  const program = new Program("prometheus", [
    `--config.file=${path}`,
    `--storage.tsdb.path=${join(folder, "data")}`,
    `--web.listen-address=${address}`,
  ]);
  await program.ready(`http://${address}/-/ready`);
  return { program, address };
}
