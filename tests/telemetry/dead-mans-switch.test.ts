import { createServer } from "node:http";
import type { AddressInfo } from "node:net";
import { afterEach, expect, test } from "vitest";
import { type DeadMansSwitch, startSwitch, switchAsked } from "../../src/telemetry/dead-mans-switch.ts";
import { createLogger, silentLogger } from "../../src/telemetry/logger.ts";

const closing: (() => Promise<void>)[] = [];

afterEach(async () => {
  for (const close of closing.splice(0)) await close();
});

/** A receiver that hands out what it was told, in order. */
async function receiver(answers: number[] = []) {
  const told: Record<string, unknown>[] = [];
  let wake = () => {};
  const server = createServer((request, response) => {
    let body = "";
    request.on("data", (part: Buffer) => {
      body += part.toString("utf8");
    });
    request.on("end", () => {
      const status = answers.shift() ?? 200;
      response.writeHead(status).end();
      if (status !== 200) return;
      told.push(JSON.parse(body) as Record<string, unknown>);
      wake();
    });
  });
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
  closing.push(() => new Promise((resolve) => server.close(() => resolve())));
  return {
    url: `http://127.0.0.1:${(server.address() as AddressInfo).port}/`,
    told,
    async next(count: number) {
      while (told.length < count) await new Promise<void>((resolve) => (wake = resolve));
      return told;
    },
  };
}

async function armed(silenceMs: number, tell: string | null, logger = silentLogger()): Promise<DeadMansSwitch> {
  const made = await startSwitch({ host: "127.0.0.1", port: 0, silenceMs, tell }, logger);
  closing.push(() => made.close());
  return made;
}

function post(url: string, body: unknown) {
  return fetch(url, { method: "POST", body: typeof body === "string" ? body : JSON.stringify(body) });
}

const FIRING = { alerts: [{ status: "firing", labels: { alertname: "Watchdog" }, annotations: {} }] };
const RESOLVED = { alerts: [{ status: "resolved", labels: { alertname: "Watchdog" }, annotations: {} }] };

test("a watchdog that never comes is told, once", async () => {
  const { url, next, told } = await receiver();
  const made = await armed(100, url);
  expect(await next(1)).toMatchObject([{ state: "silent" }]);
  expect((await fetch(`${made.url}/health`)).status).toBe(503);
  expect(told).toHaveLength(1);
});

test("a watchdog that comes back is told as well, and its next silence again", async () => {
  const { url, next } = await receiver();
  const made = await armed(200, url);
  await next(1);
  await post(`${made.url}/watchdog`, FIRING);
  expect((await next(3)).map(({ state }) => state)).toEqual(["silent", "back", "silent"]);
});

test("a resolved watchdog is no sign of life", async () => {
  const { url, next } = await receiver();
  const made = await armed(100, url);
  await next(1);
  await post(`${made.url}/watchdog`, RESOLVED);
  expect((await fetch(`${made.url}/health`)).status).toBe(503);
});

test("a receiver that refuses at first is told again", async () => {
  const { url, next } = await receiver([500]);
  await armed(100, url);
  expect(await next(1)).toMatchObject([{ state: "silent" }]);
});

test("a page is written to the log while there is no pager", async () => {
  const written: string[] = [];
  const made = await armed(60_000, null, createLogger({ to: { write: (line) => void written.push(line) } }));
  const labels = { alertname: "SiteDead", site: "alder-14", severity: "page" };
  await post(`${made.url}/page`, { alerts: [{ status: "firing", labels, annotations: { summary: "alder-14 is dead" } }] });
  expect(JSON.parse(written.at(-1) ?? "")).toMatchObject({ event: "alert-received", msg: "firing: alder-14 is dead", labels });
});

test("what is no message of Alertmanager is refused and feeds nothing", async () => {
  const made = await armed(60_000, null);
  for (const body of ["", "{", "[]", '{"alerts":5}', "null", `{"alerts":["${"x".repeat(2_000_000)}"]}`]) {
    const status = await post(`${made.url}/watchdog`, body).then(
      (answer) => answer.status,
      () => 400,
    );
    expect(status, body.slice(0, 20)).toBe(400);
  }
  expect((await fetch(`${made.url}/watchdog`)).status).toBe(405);
  expect((await post(`${made.url}/other`, FIRING)).status).toBe(404);
});

test("its command line says what it takes, and what is wrong before the first silence", () => {
  expect(switchAsked(["--help"])).toBeNull();
  expect(switchAsked([])).toEqual({ host: "127.0.0.1", port: 9_465, silenceMs: 180_000, tell: null });
  expect(switchAsked(["--silence-seconds", "60", "--tell", "https://pager.example/hook"])).toMatchObject({
    silenceMs: 60_000,
    tell: "https://pager.example/hook",
  });
  for (const wrong of ["--nonsense", "--port=far", "--port=70000", "--silence-seconds=0", "--silence-seconds=1e9", "--tell=pager.example"])
    expect(() => switchAsked([wrong])).toThrow(new RegExp(wrong.split("=")[0]!));
});
