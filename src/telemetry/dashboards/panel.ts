import { METRICS, type MetricKey } from "../metric-table.ts";

/** A dashboard as its author thinks of it; `grafana.ts` turns it into Grafana's JSON. */
export interface Dashboard {
  uid: string;
  title: string;
  /** For whom, and what it answers. */
  words: string;
  /** Label whose values can be chosen at the top. */
  choose?: { label: string; from: string };
  rows: { title: string; panels: readonly Panel[] }[];
}

export interface Panel {
  title: string;
  /** What it says and what would be wrong; shown at the panel's corner. */
  words: string;
  kind: "stat" | "timeseries" | "table" | "state-timeline";
  /** A unit of Grafana's: s, short, percentunit, bytes, ops, fahrenheit, dateTimeFromNow ... */
  unit: string;
  /** Of 24 columns. */
  width: number;
  queries: readonly Query[];
  /** Value from which a colour holds, rising. */
  steps?: Steps;
}

type Steps = readonly { from: number | null; colour: "green" | "orange" | "red" }[];

export interface Query {
  expr: string;
  /** `{{label}}` is filled in. */
  legend: string;
}

/** Names of the metrics by their key, so that a query cannot name one that is not there. */
export const NAME = Object.fromEntries(Object.entries(METRICS).map(([key, { name }]) => [key, name])) as Record<MetricKey, string>;

/** Over the dashboard's own step, at least four scrapes. */
export const STEP = "[$__rate_interval]";

/** A quantile of a histogram, by the labels given. */
export function quantile(share: number, metric: MetricKey, ...by: string[]): string {
  return `histogram_quantile(${share}, sum by (${[...by, "le"].join(", ")}) (rate(${NAME[metric]}_bucket${STEP})))`;
}

/** Good up to `warn`, bad from `alarm` on. */
export function rising(warn: number, alarm: number): Steps {
  return [
    { from: null, colour: "green" },
    { from: warn, colour: "orange" },
    { from: alarm, colour: "red" },
  ];
}

/** Good only when at least `least`. */
export function atLeast(least: number): Steps {
  return [
    { from: null, colour: "red" },
    { from: least, colour: "green" },
  ];
}
