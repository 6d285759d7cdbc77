import { expect, test } from "vitest";
import { AssembleStage } from "../../src/flow/assemble-stage.ts";
import { Uncommitted } from "../../src/flow/uncommitted.ts";
import type { LogRecord } from "../../src/log/log.ts";
import { createMetrics } from "../../src/telemetry/metrics.ts";
import { demoRailroad } from "../flow/folded.ts";

const BEGAN = Date.parse("2026-03-04T05:06:00.000Z");
const at = (seconds: number) => new Date(BEGAN + seconds * 1_000).toISOString();

const HEARTBEAT = { type: "heartbeat", site: "alder-14", time: at(0), ambient: 54 };
const PASS = [
  { type: "pass-begun", site: "alder-14", track: "1", pass: "0117", time: at(10), direction: "rising", ambient: 54 },
  {
    type: "axles",
    site: "alder-14",
    track: "1",
    pass: "0117",
    first: 1,
    ms: [0, 100, 700, 800],
    gap: [null, 70, 500, 70],
    left: { bearing: [30, 31, 30, 31] },
    right: { bearing: [30, 31, 30, 31] },
  },
  { type: "pass-ended", site: "alder-14", track: "1", pass: "0117", time: at(12), axles: 4, integrity: [] },
];

/** Folds records of one topic as a task would; below `position` it only recovers. */
async function fold(topic: string, records: readonly unknown[], position = 0) {
  const metrics = createMetrics({ version: "1", nodeDefaults: false });
  const stage = new AssembleStage(demoRailroad(), { topic, partition: 0 }, "arrival");
  const uncommitted = new Uncommitted(metrics);
  uncommitted.begin(0, position);
  for (const [offset, value] of records.entries()) {
    const key = topic === "axle-readings" ? "alder-14/1" : "alder-14";
    const bytes = Buffer.from(typeof value === "string" ? value : JSON.stringify(value));
    const record: LogRecord = { topic, partition: 0, offset, key, value: bytes, headers: {}, arrivedMs: BEGAN + 20_000 };
    uncommitted.fold(offset);
    stage.step(record, uncommitted);
  }
  return (await metrics.registry.metrics()).split("\n").filter((line) => line.startsWith("bearing_rise_site_"));
}

test("a site's heartbeat is told as the site says it", async () => {
  const lines = await fold("site-reports", [HEARTBEAT]);
  expect(lines).toContain(`bearing_rise_site_last_heartbeat_timestamp_seconds{site="alder-14"} ${BEGAN / 1_000}`);
});

test("a heartbeat that comes late does not turn time back", async () => {
  const lines = await fold("site-reports", [{ ...HEARTBEAT, time: at(60) }, HEARTBEAT]);
  expect(lines).toContain(`bearing_rise_site_last_heartbeat_timestamp_seconds{site="alder-14"} ${BEGAN / 1_000 + 60}`);
});

test("a finished pass is counted with its axles, once", async () => {
  const lines = await fold("axle-readings", [...PASS, ...PASS]);
  expect(lines).toContain('bearing_rise_site_passes_total{site="alder-14"} 1');
  expect(lines).toContain('bearing_rise_site_axles_total{site="alder-14"} 4');
  expect(lines).toContain(`bearing_rise_site_last_pass_timestamp_seconds{site="alder-14"} ${BEGAN / 1_000 + 12}`);
});

test("what is read again to recover is not counted again", async () => {
  expect(await fold("axle-readings", PASS, PASS.length)).toEqual([]);
});

test("a record that cannot be read counts against the site in its key", async () => {
  const lines = await fold("axle-readings", ["{", '{"type":"unheard-of"}', { ...PASS[0], track: "9" }]);
  expect(lines).toContain('bearing_rise_site_rejected_total{site="alder-14"} 3');
});

test("a site that is not in the line file gets no numbers, however many there are", async () => {
  const lines = await fold(
    "site-reports",
    Array.from({ length: 100 }, (_, number) => ({ ...HEARTBEAT, site: `nowhere-${number}` })),
  );
  expect(lines.filter((line) => line.includes("nowhere"))).toEqual([]);
});
