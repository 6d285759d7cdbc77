import { collectDefaultMetrics, Histogram, Registry } from "prom-client";
import { type Cell, Family } from "./cells.ts";
import { METRICS, type Metric, type MetricKey } from "./metric-table.ts";

export const TASK_STATES = ["fenced", "recovering", "running", "broken", "dropped"] as const;
export type TaskStateName = (typeof TASK_STATES)[number];
/** The stage whose ticks have come through the whole pipeline. */
const LAST_STAGE = "follow";
export const FEED_OUTCOMES = ["accepted", "refused", "overloaded"] as const;

/** Takes durations in seconds. One call per chunk, commit or batch; never per record. */
export interface Timing {
  observe(seconds: number): void;
}

/** The numbers of one task (one input partition of one stage), found once and kept by the task. */
export interface StageMetrics {
  readonly in: Cell;
  readonly out: Cell;
  readonly used: Cell;
  readonly late: Cell;
  readonly repeated: Cell;
  readonly rejected: Cell;
  /** Milliseconds since 1970. */
  readonly lastEventMs: Cell;
  /** Milliseconds since 1970 of the latest tick folded; the lag is told from it. */
  readonly lastTickMs: Cell;
  readonly behind: Cell;
  readonly committed: Cell;
  readonly fenced: Cell;
  readonly unknown: Cell;
  readonly failed: Cell;
  readonly recoveries: Cell;
  readonly refolded: Cell;
  readonly fold: Timing;
  readonly commit: Timing;
  readonly recovery: Timing;
  state(state: TaskStateName): void;
  /** The partition went elsewhere: what another process tells from now on is not told here as well. Counters stay. */
  forget(): void;
}

/** The numbers of one site. */
export interface SiteMetrics {
  readonly lastHeartbeatMs: Cell;
  readonly heartbeats: Cell;
  readonly lastPassMs: Cell;
  readonly passes: Cell;
  readonly axles: Cell;
  readonly rejected: Cell;
}

export interface WebhookMetrics {
  /** 1 or 0. */
  readonly up: Cell;
  readonly delivered: Cell;
  readonly failed: Cell;
  readonly behind: Cell;
  /** Milliseconds since 1970; NaN when nothing is pending. */
  readonly oldestPendingMs: Cell;
}

export interface FeedMetrics {
  readonly accepted: Cell;
  readonly refused: Cell;
  readonly overloaded: Cell;
  readonly bytes: Cell;
  readonly append: Timing;
}

/** One family for every counter and gauge of the table, one histogram for every histogram. */
type Families = {
  readonly [K in MetricKey]: (typeof METRICS)[K]["kind"] extends "histogram" ? Histogram : Family;
};

/** All that this process tells about itself. */
export interface Metrics {
  readonly registry: Registry;
  readonly families: Families;
  stage(stage: string, topic: string, partition: number): StageMetrics;
  site(site: string): SiteMetrics;
  webhook(endpoint: string): WebhookMetrics;
  feed(input: string): FeedMetrics;
  readonly desk: { readonly clients: Cell; readonly dropped: Cell; readonly signInsRefused: Cell; action(kind: string): Cell };
  /** What the ticker counts; a tick's time in milliseconds since 1970. */
  readonly ticker: { readonly ticks: Cell; readonly lastMs: Cell };
}

export interface MetricsOptions {
  version: string;
  /** Node's and the process's own metrics. They cost a timer and an observer: off in tests of other rooms. */
  nodeDefaults?: boolean;
  /** Milliseconds since 1970, for lags. */
  now?: () => number;
}

/** Makes the registry with every metric of the table. */
export function createMetrics(options: MetricsOptions): Metrics {
  const registry = new Registry();
  const now = options.now ?? Date.now;
  if (options.nodeDefaults ?? true) collectDefaultMetrics({ register: registry });
  const families = makeFamilies(registry, now);
  families.buildInfo.cell(options.version, process.version).set(1);
  const sites = new Map<string, SiteMetrics>();
  return {
    registry,
    families,
    stage: (stage, topic, partition) => stageMetrics(families, stage, topic, String(partition)),
    site: (site) => {
      const known = sites.get(site);
      if (known !== undefined) return known;
      const made = siteMetrics(families, site);
      sites.set(site, made);
      return made;
    },
    webhook: (endpoint) => ({
      up: families.webhookUp.cell(endpoint),
      delivered: families.webhookDeliveries.cell(endpoint, "delivered"),
      failed: families.webhookDeliveries.cell(endpoint, "failed"),
      behind: families.webhookBehind.cell(endpoint),
      oldestPendingMs: families.webhookOldest.cell(endpoint),
    }),
    feed: (input) => ({
      accepted: families.feedRecords.cell(input, "accepted"),
      refused: families.feedRecords.cell(input, "refused"),
      overloaded: families.feedRecords.cell(input, "overloaded"),
      bytes: families.feedBytes.cell(input),
      append: timing(families.feedAppendSeconds, input),
    }),
    desk: {
      clients: families.deskClients.cell(),
      dropped: families.deskClientsDropped.cell(),
      signInsRefused: families.deskSignInsRefused.cell(),
      action: (kind) => families.deskActions.cell(kind),
    },
    ticker: { ticks: families.ticks.cell(), lastMs: families.tickerLast.cell() },
  };
}

/** Names that end in `_timestamp_seconds` are told from cells in milliseconds; so is the lag, as an age. */
function makeFamilies(registry: Registry, now: () => number): Families {
  const made: Partial<Record<MetricKey, Family | Histogram>> = {};
  for (const [key, metric] of Object.entries(METRICS) as [MetricKey, Metric][]) {
    if (metric.kind === "histogram") {
      const { name, help, labels, buckets } = metric;
      made[key] = new Histogram({ name, help, labelNames: [...labels], buckets: [...(buckets ?? [])], registers: [registry] });
    } else if (key === "lag") {
      made[key] = new Family(registry, metric, (tickMs) => (now() - tickMs) / 1_000);
    } else {
      made[key] = new Family(registry, metric, metric.name.endsWith("_timestamp_seconds") ? (ms) => ms / 1_000 : undefined);
    }
  }
  return made as Families;
}

function timing(histogram: Histogram, ...labels: string[]): Timing {
  return labels.length === 0 ? histogram : histogram.labels(...labels);
}

function stageMetrics(families: Families, stage: string, topic: string, partition: string): StageMetrics {
  const task = [stage, topic, partition] as const;
  const lastTickMs = families.lag.cell(...task);
  // A tick that has come to the end of `follow` has come through everything.
  if (stage === LAST_STAGE) families.heartbeat.share(lastTickMs, partition);
  const states = TASK_STATES.map((name) => ({ name, cell: families.taskState.cell(...task, name) }));
  return {
    in: families.recordsIn.cell(...task),
    out: families.recordsOut.cell(...task),
    used: families.records.cell(...task, "used"),
    late: families.records.cell(...task, "late"),
    repeated: families.records.cell(...task, "repeated"),
    rejected: families.records.cell(...task, "rejected"),
    lastEventMs: families.lastEvent.cell(...task),
    lastTickMs,
    behind: families.recordsBehind.cell(...task),
    committed: families.transactions.cell(...task, "committed"),
    fenced: families.transactions.cell(...task, "fenced"),
    unknown: families.transactions.cell(...task, "unknown"),
    failed: families.transactions.cell(...task, "failed"),
    recoveries: families.taskRecoveries.cell(stage),
    refolded: families.refoldRecords.cell(stage),
    fold: timing(families.foldSeconds, stage),
    commit: timing(families.commitSeconds, stage),
    recovery: timing(families.recoverySeconds, stage),
    state(state) {
      for (const { name, cell } of states) cell.set(name === state ? 1 : 0);
    },
    forget() {
      for (const family of [families.lastEvent, families.lag, families.recordsBehind]) family.remove(...task);
      if (stage === LAST_STAGE) families.heartbeat.remove(partition);
      for (const { name } of states) families.taskState.remove(...task, name);
    },
  };
}

function siteMetrics(families: Families, site: string): SiteMetrics {
  return {
    lastHeartbeatMs: families.siteHeartbeat.cell(site),
    heartbeats: families.siteHeartbeats.cell(site),
    lastPassMs: families.sitePass.cell(site),
    passes: families.sitePasses.cell(site),
    axles: families.siteAxles.cell(site),
    rejected: families.siteRejected.cell(site),
  };
}
