import { describe, expect, test } from "vitest";
import { MOST_CHILDREN } from "../../src/telemetry/cells.ts";
import { METRICS } from "../../src/telemetry/metric-table.ts";
import { createMetrics, TASK_STATES } from "../../src/telemetry/metrics.ts";

const TRAIN_WORDS = /train|warning|journey|vehicle|axle|consist|pass$/;

/** The lines of a scrape without comments. */
async function scraped(metrics: ReturnType<typeof createMetrics>): Promise<string[]> {
  return (await metrics.registry.metrics()).split("\n").filter((line) => line !== "" && !line.startsWith("#"));
}

describe("names follow the conventions of Prometheus (naming page of its documentation, [M])", () => {
  test.each(Object.values(METRICS).map((metric) => [metric.name, metric] as const))("%s", (name, metric) => {
    expect(name).toMatch(/^bearing_rise_[a-z]+(_[a-z]+)*$/);
    expect(name.endsWith("_total")).toBe(metric.kind === "counter");
    expect(name).not.toMatch(/_(ms|milliseconds|minutes|hours|kb|mb|fahrenheit|miles|percent)(_|$)/);
    expect(metric.help).toMatch(/\.$/);
    for (const label of metric.labels) {
      expect(label).toMatch(/^[a-z]+$/);
      expect(label, "labels are bounded by configuration").not.toMatch(TRAIN_WORDS);
    }
  });

  test("no name stands twice", () => {
    const names = Object.values(METRICS).map(({ name }) => name);
    expect(new Set(names).size).toBe(names.length);
  });
});

test("what a task counted is told when it is scraped", async () => {
  const metrics = createMetrics({ version: "1.2.3", nodeDefaults: false, now: () => 1_000_000 });
  const stage = metrics.stage("assemble", "axle-readings", 3);
  stage.in.add(5);
  stage.used.add(3);
  stage.late.add();
  stage.rejected.add();
  stage.lastTickMs.set(970_000);
  const lines = await scraped(metrics);
  const task = 'stage="assemble",topic="axle-readings",partition="3"';
  expect(lines).toContain(`bearing_rise_records_in_total{${task}} 5`);
  expect(lines).toContain(`bearing_rise_records_total{${task},outcome="used"} 3`);
  expect(lines).toContain(`bearing_rise_records_total{${task},outcome="late"} 1`);
  expect(lines).toContain(`bearing_rise_records_total{${task},outcome="repeated"} 0`);
  expect(lines).toContain(`bearing_rise_lag_seconds{${task}} 30`);
  expect(lines).toContain(`bearing_rise_build_info{version="1.2.3",node="${process.version}"} 1`);
});

test("lag grows while nothing comes through", async () => {
  let now = 1_000_000;
  const metrics = createMetrics({ version: "1", nodeDefaults: false, now: () => now });
  metrics.stage("follow", "passes", 0).lastTickMs.set(now);
  const lag = 'bearing_rise_lag_seconds{stage="follow",topic="passes",partition="0"}';
  expect(await scraped(metrics)).toContain(`${lag} 0`);
  now += 90_000;
  expect(await scraped(metrics)).toContain(`${lag} 90`);
});

test("the heartbeat of the pipeline is the tick that has come to the end of follow, and of no stage before", async () => {
  const metrics = createMetrics({ version: "1", nodeDefaults: false });
  metrics.stage("assemble", "axle-readings", 1).lastTickMs.set(99_000);
  const follow = metrics.stage("follow", "passes", 2);
  follow.lastTickMs.set(60_000);
  const heartbeats = async () => (await scraped(metrics)).filter((line) => line.startsWith("bearing_rise_pipeline_heartbeat"));
  expect(await heartbeats()).toEqual(['bearing_rise_pipeline_heartbeat_timestamp_seconds{partition="2"} 60']);
  follow.forget();
  expect(await heartbeats()).toEqual([]);
});

test("a task is in exactly one state", async () => {
  const metrics = createMetrics({ version: "1", nodeDefaults: false });
  const stage = metrics.stage("follow", "passes", 0);
  for (const state of TASK_STATES) {
    stage.state(state);
    const set = (await scraped(metrics)).filter((line) => line.startsWith("bearing_rise_task_state") && line.endsWith(" 1"));
    expect(set).toEqual([`bearing_rise_task_state{stage="follow",topic="passes",partition="0",state="${state}"} 1`]);
  }
});

test("a partition that went elsewhere is not told here any more, what was counted stays", async () => {
  const metrics = createMetrics({ version: "1", nodeDefaults: false });
  const stage = metrics.stage("follow", "passes", 0);
  stage.in.add(7);
  stage.state("running");
  stage.behind.set(2);
  stage.lastTickMs.set(5_000);
  stage.forget();
  const lines = (await scraped(metrics)).filter((line) => line.includes('topic="passes"'));
  expect(lines.filter((line) => /task_state|lag_seconds|behind/.test(line))).toEqual([]);
  expect(lines).toContain('bearing_rise_records_in_total{stage="follow",topic="passes",partition="0"} 7');
});

test("a partition that comes back is told again and goes on counting", async () => {
  const metrics = createMetrics({ version: "1", nodeDefaults: false });
  metrics.stage("follow", "passes", 0).in.add(7);
  metrics.stage("follow", "passes", 0).forget();
  const again = metrics.stage("follow", "passes", 0);
  again.in.add(1);
  again.state("recovering");
  const lines = await scraped(metrics);
  expect(lines).toContain('bearing_rise_records_in_total{stage="follow",topic="passes",partition="0"} 8');
  expect(lines).toContain('bearing_rise_task_state{stage="follow",topic="passes",partition="0",state="recovering"} 1');
});

test("what is not known yet is not told as nought", async () => {
  const metrics = createMetrics({ version: "1", nodeDefaults: false });
  metrics.site("alder-14");
  const lines = await scraped(metrics);
  expect(lines.filter((line) => line.startsWith("bearing_rise_site_last_heartbeat"))).toEqual([]);
  expect(lines.filter((line) => line.startsWith("bearing_rise_desk_clients "))).toEqual([]);
  expect(lines).toContain('bearing_rise_site_passes_total{site="alder-14"} 0');
});

test("more label values than the bound end in one child, and no count is lost", async () => {
  const metrics = createMetrics({ version: "1", nodeDefaults: false });
  const more = 100;
  for (let at = 0; at < MOST_CHILDREN + more; at++) metrics.families.siteAxles.cell(`site-${at}`).add();
  const lines = (await scraped(metrics)).filter((line) => line.startsWith("bearing_rise_site_axles_total"));
  expect(lines).toHaveLength(MOST_CHILDREN + 1);
  expect(lines).toContain(`bearing_rise_site_axles_total{site="beyond-limit"} ${more}`);
});

test("a wrong number of label values is said at once", () => {
  const metrics = createMetrics({ version: "1", nodeDefaults: false });
  expect(() => metrics.families.recordsIn.cell("follow")).toThrow(/bearing_rise_records_in_total has the labels stage, topic, partition/);
});

test("Node's own metrics are there by default", async () => {
  const text = await createMetrics({ version: "1" }).registry.metrics();
  for (const name of ["nodejs_eventloop_lag_p99_seconds", "process_resident_memory_bytes", "process_cpu_seconds_total"]) {
    expect(text).toContain(`\n${name} `);
  }
});
