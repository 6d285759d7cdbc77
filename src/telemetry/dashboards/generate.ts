import { mkdirSync, writeFileSync } from "node:fs";
import { pathToFileURL } from "node:url";
import { grafanaJson } from "./grafana.ts";
import { operations } from "./operations.ts";
import type { Dashboard } from "./panel.ts";
import { pipeline } from "./pipeline.ts";
import { sites } from "./sites.ts";

/** `npm run dashboards` writes them to deploy/grafana/dashboards/; a test fails when they are stale. */
export const DASHBOARDS: Readonly<Record<string, Dashboard>> = { operations, sites, pipeline };

/** File name -> JSON. */
export function dashboardFiles(): Map<string, string> {
  return new Map(Object.entries(DASHBOARDS).map(([name, dashboard]) => [`${name}.json`, grafanaJson(dashboard)]));
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? "").href) {
  const folder = new URL("../../../deploy/grafana/dashboards/", import.meta.url);
  mkdirSync(folder, { recursive: true });
  for (const [name, text] of dashboardFiles()) writeFileSync(new URL(name, folder), text);
}
