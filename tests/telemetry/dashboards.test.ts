import { spawnSync } from "node:child_process";
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { parse, stringify } from "yaml";
import { DASHBOARDS, dashboardFiles } from "../../src/telemetry/dashboards/generate.ts";
import { DATA_SOURCE } from "../../src/telemetry/dashboards/grafana.ts";
import { METRICS } from "../../src/telemetry/metric-table.ts";
import { DEPLOY, knownSeries, rules, strangersIn } from "./deployed.ts";
import { withProgram } from "./programs.ts";

const FOLDER = `${DEPLOY}grafana/dashboards/`;
const known = await knownSeries();

interface GrafanaPanel {
  type: string;
  title: string;
  description?: string;
  gridPos: { x: number; y: number; w: number; h: number };
  targets?: { expr: string; legendFormat: string; datasource: { uid: string } }[];
}

/** As deployed, not as generated. */
function panels(name: string): GrafanaPanel[] {
  return (JSON.parse(readFileSync(FOLDER + name, "utf8")) as { panels: GrafanaPanel[] }).panels;
}

const files = readdirSync(FOLDER);
const queries = files.flatMap((name) =>
  panels(name).flatMap(({ title, targets = [] }) =>
    targets.map(({ expr, legendFormat }) => ({ where: `${name}: ${title}`, expr, legendFormat })),
  ),
);

test("the dashboards are as generated: run `npm run dashboards`", () => {
  const wanted = dashboardFiles();
  expect(files.sort()).toEqual([...wanted.keys()].sort());
  for (const [name, text] of wanted) expect(readFileSync(FOLDER + name, "utf8"), name).toBe(text);
});

test.each(queries)("$where asks only for what is measured", ({ expr, legendFormat }) => {
  expect(strangersIn(expr, known)).toEqual([]);
  const grouped = [...expr.matchAll(/by \(([^)]*)\)/g)].flatMap(([, labels = ""]) => labels.split(",").map((label) => label.trim()));
  for (const [, label = ""] of legendFormat.matchAll(/\{\{(\w+)\}\}/g)) {
    // Without grouping a series keeps its own labels.
    expect(grouped.length > 0 ? grouped : ["instance", "version", "node"]).toContain(label);
  }
});

test("nothing is measured for nothing: every metric is in a dashboard or an alert", () => {
  const asked = [...queries.map(({ expr }) => expr), ...rules().map(({ expr }) => expr)].join("\n");
  const unasked = Object.values(METRICS).filter(({ name }) => !new RegExp(`\\b${name}(_bucket)?\\b`).test(asked));
  expect(unasked.map(({ name }) => name)).toEqual([]);
});

describe.each(files)("%s", (name) => {
  test("panels stand side by side, none over another, none outside", () => {
    const places = panels(name).map(({ gridPos }) => gridPos);
    for (const [at, a] of places.entries()) {
      expect(a.x + a.w).toBeLessThanOrEqual(24);
      for (const b of places.slice(at + 1)) {
        const apart = a.x + a.w <= b.x || b.x + b.w <= a.x || a.y + a.h <= b.y || b.y + b.h <= a.y;
        expect(apart, JSON.stringify([a, b])).toBe(true);
      }
    }
  });

  test("every panel says what it shows", () => {
    for (const { type, title, description } of panels(name)) {
      expect(title).not.toBe("");
      if (type !== "row") expect(description, title).toMatch(/\.$/);
    }
  });
});

test("dashboards ask the data source that is provisioned", () => {
  const provisioned = parse(readFileSync(`${DEPLOY}grafana/provisioning/datasources/prometheus.yml`, "utf8")) as {
    datasources: { uid: string; type: string }[];
  };
  expect(provisioned.datasources.map(({ uid, type }) => ({ uid, type }))).toEqual([DATA_SOURCE]);
  expect(new Set(Object.values(DASHBOARDS).map(({ uid }) => uid)).size).toBe(Object.keys(DASHBOARDS).length);
});

withProgram("promtool", () => {
  test("Prometheus can read every query", () => {
    const folder = mkdtempSync(join(tmpdir(), "bearing-rise-queries-"));
    const path = join(folder, "queries.yml");
    const filled = queries.map(({ expr }) => expr.replaceAll("$__rate_interval", "1m").replaceAll("$site", ".*"));
    const recorded = filled.map((expr, at) => ({ record: `query:${at}`, expr }));
    writeFileSync(path, stringify({ groups: [{ name: "queries", rules: recorded }] }));
    const { status, stdout, stderr } = spawnSync("promtool", ["check", "rules", path], { encoding: "utf8" });
    rmSync(folder, { recursive: true });
    expect(status, stdout + stderr).toBe(0);
  });
});
