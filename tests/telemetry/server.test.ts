import { request } from "node:http";
import { connect } from "node:net";
import { tmpdir } from "node:os";
import { afterEach, expect, test } from "vitest";
import { Health } from "../../src/telemetry/health.ts";
import { silentLogger } from "../../src/telemetry/logger.ts";
import { createMetrics } from "../../src/telemetry/metrics.ts";
import { startTelemetry, type Telemetry, telemetryConfig } from "../../src/telemetry/server.ts";

let open: Telemetry[] = [];

afterEach(async () => {
  for (const telemetry of open) await telemetry.close();
  open = [];
});

async function started(dataFolder?: string) {
  const health = new Health();
  const metrics = createMetrics({ version: "1", nodeDefaults: false });
  const telemetry = await startTelemetry({ host: "127.0.0.1", port: 0 }, { health, metrics, logger: silentLogger(), dataFolder });
  open.push(telemetry);
  return { health, metrics, telemetry, get: (path: string) => fetch(`${telemetry.url}${path}`) };
}

test("a process is ready when every one of its parts is, and says which is not", async () => {
  const { health, get } = await started();
  expect((await get("/health/ready")).status).toBe(503);
  const task = health.part("follow passes/0");
  const desk = health.part("desk");
  task.unready("recovering");
  desk.ready();
  const answer = await get("/health/ready");
  expect(answer.status).toBe(503);
  expect(await answer.json()).toEqual({ ok: false, parts: [{ part: "follow passes/0", why: "recovering" }] });
  task.ready();
  expect((await get("/health/ready")).status).toBe(200);
});

test("a process that is not ready is alive; one with a broken part is not", async () => {
  const { health, get } = await started();
  const task = health.part("follow passes/0");
  task.unready("recovering");
  expect((await get("/health/live")).status).toBe(200);
  task.broken("no progress for 60 s");
  expect(await (await get("/health/live")).json()).toEqual({
    ok: false,
    parts: [{ part: "follow passes/0", why: "no progress for 60 s" }],
  });
  task.remove();
  expect((await get("/health/live")).status).toBe(200);
});

test("a part that is asked each time says when it cannot work, and is ready again without being told", async () => {
  const { health, get } = await started();
  health.part("follow").ready();
  let why: string | null = "passes/0 recovering";
  health.watch("follow", () => why);
  expect(await (await get("/health/ready")).json()).toEqual({ ok: false, parts: [{ part: "follow", why }] });
  expect((await get("/health/live")).status).toBe(200);
  why = null;
  expect((await get("/health/ready")).status).toBe(200);
});

test("metrics come in Prometheus's text format, with readiness and free space", async () => {
  const { health, get } = await started(tmpdir());
  health.part("desk").ready();
  const answer = await get("/metrics");
  expect(answer.headers.get("content-type")).toContain("text/plain; version=0.0.4");
  const text = await answer.text();
  expect(text).toContain("\nbearing_rise_ready 1\n");
  expect(text).toMatch(/\nbearing_rise_data_free_bytes [1-9]\d+\n/);
});

test("a data folder that is not there costs its own metric, not the scrape", async () => {
  const { get } = await started("/nowhere/at/all");
  const answer = await get("/metrics");
  expect(answer.status).toBe(200);
  expect(await answer.text()).not.toMatch(/\nbearing_rise_data_free_bytes \d/);
});

test("anything but reading is refused", async () => {
  const { telemetry, get } = await started();
  expect((await fetch(`${telemetry.url}/metrics`, { method: "POST", body: "x" })).status).toBe(405);
  expect((await get("/other")).status).toBe(404);
});

test("a request with headers beyond the bound is refused", async () => {
  const { telemetry } = await started();
  const status = await new Promise<number | undefined>((resolve, reject) => {
    const sent = request(`${telemetry.url}/metrics`, { headers: { "x-long": "x".repeat(20_000) } }, (answer) => {
      answer.resume();
      resolve(answer.statusCode);
    });
    sent.on("error", reject).end();
  });
  expect(status).toBe(431);
});

test("closing does not wait for a connection that says nothing", async () => {
  const { telemetry } = await started();
  const idle = connect(telemetry.port, "127.0.0.1");
  await new Promise((resolve) => idle.once("connect", resolve));
  const gone = new Promise((resolve) => idle.once("close", resolve));
  idle.on("error", () => {});
  await telemetry.close();
  open = [];
  await gone;
});

test("a taken port is an error at start", async () => {
  const { telemetry } = await started();
  const parts = { health: new Health(), metrics: createMetrics({ version: "1", nodeDefaults: false }), logger: silentLogger() };
  await expect(startTelemetry({ host: "127.0.0.1", port: telemetry.port }, parts)).rejects.toThrow(/EADDRINUSE/);
});

test("by default it listens on this machine only", () => {
  expect(telemetryConfig.parse({})).toEqual({ host: "127.0.0.1", port: 9_464, log: { level: "info" } });
  expect(telemetryConfig.safeParse({ prot: 1 }).success).toBe(false);
});
