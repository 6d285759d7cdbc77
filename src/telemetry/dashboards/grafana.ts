import type { Dashboard, Panel } from "./panel.ts";

/** The data source that deploy/grafana/provisioning sets up. */
export const DATA_SOURCE = { type: "prometheus", uid: "bearing-rise-prometheus" };

const COLUMNS = 24;
const HEIGHT = { stat: 5, timeseries: 8, table: 10, "state-timeline": 9 } as const;
const SCHEMA_VERSION = 39;

type Json = Record<string, unknown>;

/** Grafana's JSON of a dashboard, the same bytes for the same dashboard. */
export function grafanaJson(dashboard: Dashboard): string {
  const panels: Json[] = [];
  let y = 0;
  let id = 1;
  for (const { title, panels: inRow } of dashboard.rows) {
    panels.push({ id: id++, type: "row", title, collapsed: false, gridPos: { x: 0, y: y++, w: COLUMNS, h: 1 }, panels: [] });
    let x = 0;
    let height = 0;
    for (const panel of inRow) {
      if (x + panel.width > COLUMNS) {
        y += height;
        x = 0;
        height = 0;
      }
      const h = HEIGHT[panel.kind];
      panels.push(panelJson(panel, id++, { x, y, w: panel.width, h }));
      x += panel.width;
      height = Math.max(height, h);
    }
    y += height;
  }
  return `${JSON.stringify(dashboardJson(dashboard, panels), null, 2)}\n`;
}

function dashboardJson({ uid, title, words, choose }: Dashboard, panels: Json[]): Json {
  return {
    uid,
    title,
    description: words,
    tags: ["bearing-rise"],
    schemaVersion: SCHEMA_VERSION,
    editable: false,
    timezone: "utc",
    refresh: "10s",
    time: { from: "now-6h", to: "now" },
    links: [{ type: "dashboards", tags: ["bearing-rise"], title: "bearing-rise", asDropdown: false, keepTime: true }],
    templating: { list: choose === undefined ? [] : [variable(choose)] },
    panels,
  };
}

function variable({ label, from }: NonNullable<Dashboard["choose"]>): Json {
  const query = `label_values(${from}, ${label})`;
  return {
    name: label,
    label,
    type: "query",
    datasource: DATA_SOURCE,
    query,
    refresh: 2,
    multi: true,
    includeAll: true,
    allValue: ".*",
    sort: 1,
  };
}

function panelJson(panel: Panel, id: number, gridPos: Json): Json {
  const instant = panel.kind === "stat" || panel.kind === "table";
  return {
    id,
    type: panel.kind,
    title: panel.title,
    description: panel.words,
    gridPos,
    datasource: DATA_SOURCE,
    targets: panel.queries.map(({ expr, legend }, at) => ({
      refId: String.fromCharCode("A".charCodeAt(0) + at),
      datasource: DATA_SOURCE,
      expr,
      legendFormat: legend,
      ...(instant ? { instant: true, range: false } : {}),
      ...(panel.kind === "table" ? { format: "table" } : {}),
    })),
    fieldConfig: { defaults: fieldJson(panel), overrides: [] },
    options: optionsJson(panel),
    ...(panel.kind === "table" ? { transformations: [HIDE_TIME] } : {}),
  };
}

/** What every scrape adds and nobody needs to read. */
const HIDE_TIME = {
  id: "organize",
  options: { excludeByName: { Time: true, __name__: true, instance: true, job: true } },
};

function fieldJson({ unit, steps, kind }: Panel): Json {
  const thresholds = steps ?? [{ from: null, colour: "green" as const }];
  return {
    unit,
    noValue: "none",
    color: { mode: steps === undefined && kind === "timeseries" ? "palette-classic" : "thresholds" },
    thresholds: { mode: "absolute", steps: thresholds.map(({ from, colour }) => ({ color: colour, value: from })) },
    ...(kind === "timeseries"
      ? { custom: { drawStyle: "line", lineWidth: 1, fillOpacity: 5, showPoints: "never", spanNulls: false } }
      : {}),
  };
}

function optionsJson({ kind }: Panel): Json {
  switch (kind) {
    case "stat":
      return { reduceOptions: { calcs: ["lastNotNull"], fields: "", values: false }, textMode: "value_and_name", colorMode: "value" };
    case "timeseries":
      return { legend: { displayMode: "list", placement: "bottom" }, tooltip: { mode: "multi", sort: "desc" } };
    case "table":
      return { showHeader: true };
    case "state-timeline":
      return { showValue: "never", mergeValues: true, legend: { displayMode: "list", placement: "bottom" } };
  }
}
