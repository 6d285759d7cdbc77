import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { type DeadMansSwitch, startSwitch } from "../../src/telemetry/dead-mans-switch.ts";
import { silentLogger } from "../../src/telemetry/logger.ts";
import { INTERVAL_MS, LiveProcess } from "./live-process.ts";
import { type Program, Receiver, startAlertmanager, startPrometheus, until } from "./monitoring.ts";
import { withProgram } from "./programs.ts";

/** Promised in deploy/prometheus/prometheus.yml: a page within a minute of the condition being published. */
const PROMISED_MS = 60_000;
/** The site is to be found dead within so many of its heartbeat intervals. */
const DEAD_WITHIN_MS = 3 * INTERVAL_MS;
/** Deployed: 180 s against a watchdog every 30 s. Here one comes every second. */
const SILENCE_MS = 6_000;

const DYING = "alder-14";

/** The page takes Prometheus and Alertmanager both. */
const bothPrograms = (tests: () => void) => withProgram("prometheus", () => withProgram("prometheus-alertmanager", tests));

bothPrograms(() => {
  const folder = mkdtempSync(join(tmpdir(), "bearing-rise-paging-"));
  const receiver = new Receiver();
  const running: Program[] = [];
  let deadMansSwitch: DeadMansSwitch;
  let live: LiveProcess;

  beforeAll(async () => {
    const receiverUrl = await receiver.open();
    deadMansSwitch = await startSwitch({ host: "127.0.0.1", port: 0, silenceMs: SILENCE_MS, tell: receiverUrl }, silentLogger());
    live = await LiveProcess.start(join(folder, "live"));
    const alertmanager = await startAlertmanager(join(folder, "alertmanager"), receiverUrl, deadMansSwitch.url);
    running.push(alertmanager.program);
    const prometheus = await startPrometheus(join(folder, "prometheus"), `127.0.0.1:${live.telemetryPort}`, alertmanager.address);
    running.push(prometheus.program);
  });

  afterAll(async () => {
    await live.stop();
    for (const program of running.reverse()) await program.kill();
    await deadMansSwitch.close();
    await receiver.close();
    rmSync(folder, { recursive: true });
  });

  const said = () =>
    JSON.stringify(
      { told: receiver.told, alerts: receiver.alerts, processes: [live.program, ...running].map((program) => program.said) },
      null,
      1,
    );
  const toldSince = (state: "silent" | "back", sinceMs: number) =>
    receiver.told.find((told) => told.state === state && told.atMs > sinceMs) ?? null;

  test("while all is well the watchdog reaches the switch over and over, and nobody is paged", async () => {
    // Had nothing come for so long, the switch would have told; what it told while the programs were starting does not count.
    const since = performance.now();
    await until(
      "the switch has heard for longer than it waits",
      PROMISED_MS,
      () => {
        const last = receiver.told.at(-1);
        return last?.state !== "silent" && performance.now() - (last?.atMs ?? since) > SILENCE_MS + 1_000 ? true : null;
      },
      said,
    );
    expect(receiver.alerts.filter(({ path }) => path === "/page")).toEqual([]);
  });

  test("a site goes dead, and the page arrives within the promised time, with words and a runbook", async () => {
    await until("the rhythm of the site is known", PROMISED_MS, async () => {
      const [line = "0"] = await live.told(`site_heartbeats_total{site="${DYING}"}`);
      return Number(line.split(" ").at(-1)) >= 3 ? true : null;
    });
    live.alive.delete(DYING);
    const since = performance.now();
    const page = await until("the page of the dead site", PROMISED_MS, () => receiver.find("SiteDead", "firing", DYING) ?? null, said);
    expect(page.atMs - since).toBeLessThan(DEAD_WITHIN_MS + PROMISED_MS);
    expect(page.path).toBe("/page");
    expect(page.annotations).toMatchObject({
      summary: `${DYING} is dead: its heartbeats have stopped.`,
      runbook: "deploy/runbooks/SiteDead.md",
    });
    expect(receiver.alerts.filter(({ path }) => path === "/page").map(({ labels }) => labels["site"])).toEqual([DYING]);
  });

  test("the processor is killed: the watchdog stops and the switch tells", async () => {
    const since = performance.now();
    await live.program.kill("SIGKILL");
    const told = await until("the switch tells", PROMISED_MS, () => toldSince("silent", since), said);
    expect(told.atMs - since).toBeGreaterThan(SILENCE_MS - 2_000);
    expect((await fetch(`${deadMansSwitch.url}/health`)).status).toBe(503);
  });

  test("the processor is started again: the switch tells that too, and the dead site is still known", async () => {
    const since = performance.now();
    await live.again();
    await until("the switch tells", PROMISED_MS, () => toldSince("back", since), said);
    await until("the dead site is told", PROMISED_MS, async () => {
      const open = await live.told(`site_conditions_open{site="${DYING}",kind="dead"`);
      return open.some((line) => line.endsWith(" 1")) ? true : null;
    });
    // That the process was away must not have looked like a site that came back.
    expect(receiver.find("SiteDead", "resolved", DYING)).toBeUndefined();
  });

  test("the site comes back, and that is told as well", async () => {
    const since = performance.now();
    live.alive.add(DYING);
    const resolved = () =>
      receiver.alerts.find(({ status, labels, atMs }) => status === "resolved" && labels["site"] === DYING && atMs > since);
    await until("the page is resolved", PROMISED_MS, () => resolved() ?? null, said);
  });
});
