import { readdirSync, readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { parse } from "yaml";
import { METRICS, type Metric } from "../../src/telemetry/metric-table.ts";
import { createMetrics } from "../../src/telemetry/metrics.ts";

/** What stands in deploy/, read as it is deployed. */
export const DEPLOY = fileURLToPath(new URL("../../deploy/", import.meta.url));

export interface Rule {
  alert: string;
  expr: string;
  for?: string;
  labels: { severity: string };
  annotations: { summary: string; description: string; runbook: string };
}

export const RULE_FILES = readdirSync(`${DEPLOY}prometheus/rules`)
  .filter((name) => name.endsWith(".yml"))
  .map((name) => `${DEPLOY}prometheus/rules/${name}`);

export function rules(): Rule[] {
  return RULE_FILES.flatMap((path) =>
    (parse(readFileSync(path, "utf8")) as { groups: { rules: Rule[] }[] }).groups.flatMap((group) => group.rules),
  );
}

/** Told by Prometheus itself, of every target. */
const OF_PROMETHEUS = new Map([["up", ["job", "instance"]]]);
const SCRAPED = ["job", "instance"];

/** Series name -> the labels it may have. */
export async function knownSeries(): Promise<Map<string, readonly string[]>> {
  const known = new Map<string, readonly string[]>(OF_PROMETHEUS);
  const own = new Map<string, Metric>(Object.values(METRICS).map((metric) => [metric.name, metric]));
  // Node's own are told by a registry; some of them only once something happened, but each is registered.
  for (const { name, type } of createMetrics({ version: "1" }).registry.getMetricsAsArray()) {
    const labels = own.get(name)?.labels;
    const kept = labels === undefined ? null : [...labels, ...SCRAPED];
    // The library's types say a number, its objects a word.
    if (String(type) !== "histogram") known.set(name, kept ?? []);
    else for (const suffix of ["_bucket", "_sum", "_count"]) known.set(name + suffix, [...(kept ?? SCRAPED), "le"]);
  }
  return known;
}

const SERIES = /(?<![a-zA-Z0-9_:"$.-])((?:bearing_rise|nodejs|process)_[a-z0-9_]+|up)(?![a-zA-Z0-9_(])(?:\{([^}]*)\})?/g;

/** Names and labels in a query that no series has. Node's own series are held by name only. */
export function strangersIn(query: string, known: ReadonlyMap<string, readonly string[]>): string[] {
  const strangers: string[] = [];
  for (const [, name = "", matchers = ""] of query.matchAll(SERIES)) {
    const labels = known.get(name);
    if (labels === undefined) {
      strangers.push(name);
      continue;
    }
    if (!name.startsWith("bearing_rise_") && name !== "up") continue;
    for (const [, label = ""] of matchers.matchAll(/([a-z_]+)\s*(?:=~|!~|!=|=)/g)) {
      if (!labels.includes(label)) strangers.push(`${name}{${label}}`);
    }
  }
  return strangers;
}

/** The values that a query holds a label against: `kind="dead"`, `state=~"a|b"`. */
export function valuesOf(query: string, label: string): string[] {
  const held = query.matchAll(new RegExp(`\\b${label}\\s*(?:=~|!~|!=|=)\\s*"([^"]*)"`, "g"));
  return [...held].flatMap(([, values = ""]) => values.split("|")).filter((value) => !value.includes("$"));
}
