import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { afterAll, beforeAll, expect, test } from "vitest";
import { type DeadMansSwitch, startSwitch } from "../../src/telemetry/dead-mans-switch.ts";
import { silentLogger } from "../../src/telemetry/logger.ts";
import { freePort, Program, Receiver, startAlertmanager, startPrometheus, until } from "./monitoring.ts";
import { withProgram } from "./programs.ts";

/** Promised in deploy/prometheus/prometheus.yml: a page within a minute of the condition being published. */
const PROMISED_MS = 60_000;
/** Deployed: 180 s against a watchdog every 30 s. Here one comes every second. */
const SILENCE_MS = 6_000;

const SMALL = fileURLToPath(new URL("./small-processor.ts", import.meta.url));

/** The page takes Prometheus and Alertmanager both. */
const bothPrograms = (tests: () => void) => withProgram("prometheus", () => withProgram("prometheus-alertmanager", tests));

bothPrograms(() => {
  const folder = mkdtempSync(join(tmpdir(), "bearing-rise-paging-"));
  const receiver = new Receiver();
  const running: Program[] = [];
  let deadMansSwitch: DeadMansSwitch;
  let processor: Program;

  beforeAll(async () => {
    const receiverUrl = await receiver.open();
    deadMansSwitch = await startSwitch({ host: "127.0.0.1", port: 0, silenceMs: SILENCE_MS, tell: receiverUrl }, silentLogger());
    const port = await freePort();
    processor = new Program(process.execPath, [SMALL, String(port)]);
    running.push(processor);
    await processor.ready(`http://127.0.0.1:${port}/health/ready`);
    const alertmanager = await startAlertmanager(join(folder, "alertmanager"), receiverUrl, deadMansSwitch.url);
    running.push(alertmanager.program);
    const prometheus = await startPrometheus(join(folder, "prometheus"), `127.0.0.1:${port}`, alertmanager.address);
    running.push(prometheus.program);
  });

  afterAll(async () => {
    for (const program of running.reverse()) await program.kill();
    await deadMansSwitch.close();
    await receiver.close();
    rmSync(folder, { recursive: true });
  });

  const said = () => JSON.stringify({ told: receiver.told, alerts: receiver.alerts, processes: running.map((program) => program.said) });
  const say = (version: number, state: "raised" | "cleared") => {
    const condition = {
      id: "C-1",
      version,
      time: new Date().toISOString(),
      site: "alder-14",
      device: "",
      kind: "dead",
      state,
      words: "dead",
    };
    processor.child.stdin?.write(`${JSON.stringify(condition)}\n`);
  };

  test("while all is well the watchdog reaches the switch over and over, and nobody is paged", async () => {
    // Had nothing come for so long, the switch would have told; what it told while the programs were starting does not count.
    const since = performance.now();
    await until("the switch has heard for longer than it waits", PROMISED_MS, () => {
      const last = receiver.told.at(-1);
      return last?.state !== "silent" && performance.now() - (last?.atMs ?? since) > SILENCE_MS + 1_000 ? true : null;
    });
    expect(receiver.alerts.filter(({ path }) => path === "/page")).toEqual([]);
  });

  test("a site goes dead, and the page arrives within the promised time, with words and a runbook", async () => {
    const since = performance.now();
    say(1, "raised");
    const page = await until("the page of the dead site", PROMISED_MS, () => receiver.find("SiteDead", "firing", "alder-14") ?? null, said);
    expect(page.atMs - since).toBeLessThan(PROMISED_MS);
    expect(page.path).toBe("/page");
    expect(page.annotations).toMatchObject({
      summary: "alder-14 is dead: no heartbeat for three of its intervals.",
      runbook: "deploy/runbooks/SiteDead.md",
    });
  });

  test("a site that comes back is told as well", async () => {
    say(2, "cleared");
    await until("the page is resolved", PROMISED_MS, () => receiver.find("SiteDead", "resolved", "alder-14") ?? null, said);
  });

  test("the processor is killed: the watchdog stops and the switch tells", async () => {
    const since = performance.now();
    await processor.kill("SIGKILL");
    const told = await until(
      "the switch tells",
      PROMISED_MS,
      () => receiver.told.find(({ state, atMs }) => state === "silent" && atMs > since) ?? null,
      said,
    );
    expect(told.atMs - since).toBeGreaterThan(SILENCE_MS - 2_000);
    expect((await fetch(`${deadMansSwitch.url}/health`)).status).toBe(503);
  });
});
