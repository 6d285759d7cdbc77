/** What a metric is: everything that rules, dashboards and runbooks may name stands in this table, and nowhere else. */
export interface Metric {
  kind: "counter" | "gauge" | "histogram";
  name: string;
  help: string;
  /** Bounded by configuration: stage, topic, partition, site and the like; never a train, a warning or a vehicle. */
  labels: readonly string[];
  /** Upper bounds, of histograms only; in the metric's unit. */
  buckets?: readonly number[];
}

export const PREFIX = "bearing_rise_";

const TASK = ["stage", "topic", "partition"] as const;
/** From a chunk that cost nothing to one that missed the session time-out. */
const WORK_SECONDS = [0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 10];
/** From the latency goal (30 ms) to a day off. */
const DELAY_SECONDS = [0.03, 0.1, 0.3, 1, 3, 10, 30, 60, 120, 300, 900, 3_600, 21_600, 86_400];
const RECOVERY_SECONDS = [0.1, 0.5, 1, 2, 5, 10, 30, 60, 300, 1_800];

function counter(name: string, help: string, labels: readonly string[] = []): Metric & { kind: "counter" } {
  return { kind: "counter", name: `${PREFIX}${name}_total`, help, labels };
}

function gauge(name: string, help: string, labels: readonly string[] = []): Metric & { kind: "gauge" } {
  return { kind: "gauge", name: `${PREFIX}${name}`, help, labels };
}

function histogram(name: string, help: string, buckets: readonly number[], labels: readonly string[] = []): Metric & { kind: "histogram" } {
  return { kind: "histogram", name: `${PREFIX}${name}`, help, labels, buckets };
}

export const METRICS = {
  buildInfo: gauge("build_info", "1, with what is running as labels.", ["version", "node"]),
  ready: gauge("ready", "1 when every part of this process says it is ready."),
  logLinesHeldBack: counter("log_lines_held_back", "Log lines not written because one event repeated too quickly."),

  recordsIn: counter("records_in", "Records read by a stage, once each: reading again while recovering does not count.", TASK),
  recordsOut: counter("records_out", "Records committed by a stage.", TASK),
  records: counter("records", "What became of the records read: used, late, repeated or rejected. The four add up to those read.", [
    ...TASK,
    "outcome",
  ]),
  lastEvent: gauge("last_event_timestamp_seconds", "Event time of the latest record folded, as the feed says it.", TASK),
  lag: gauge(
    "lag_seconds",
    "How old the latest tick is that this task has folded: it grows when records, or ticks, do not come through.",
    TASK,
  ),
  recordsBehind: gauge("records_behind", "Committed records of the partition not folded yet.", TASK),
  taskState: gauge("task_state", "1 for the state the task is in: fenced, recovering, running, broken or dropped.", [...TASK, "state"]),
  taskRecoveries: counter("task_recoveries", "Recoveries begun: at start, after a rebalance, after an error.", ["stage"]),
  recoverySeconds: histogram("recovery_seconds", "From the claim to the first new record.", RECOVERY_SECONDS, ["stage"]),
  transactions: counter("transactions", "Commits by outcome: committed, fenced, unknown or failed.", [...TASK, "outcome"]),
  foldSeconds: histogram("fold_seconds", "Folding one chunk of records.", WORK_SECONDS, ["stage"]),
  commitSeconds: histogram("commit_seconds", "Committing outputs and position.", WORK_SECONDS, ["stage"]),
  refoldRecords: counter("refold_records", "Records read again to recover state, their outputs dropped.", ["stage"]),

  ticks: counter("ticks", "Ticks appended to the log by this process."),
  tickerLast: gauge("ticker_last_timestamp_seconds", "Time of the latest tick this process has appended."),
  heartbeat: gauge(
    "pipeline_heartbeat_timestamp_seconds",
    "Time of the latest tick that has come through the whole pipeline, by partition of passes. It is the oldest over all sources.",
    ["partition"],
  ),

  warnings: counter("warnings", "Versions of warnings published since this process started; what a version was as `change`.", [
    "level",
    "change",
  ]),
  warningsOpen: gauge("warnings_open", "Warnings neither cleared nor withdrawn, by level and alarm state.", ["level", "state"]),
  oldestUnacknowledged: gauge(
    "oldest_unacknowledged_warning_timestamp_seconds",
    "Event time since which the oldest open warning of a level has waited for somebody; infinite when there is none.",
    ["level"],
  ),
  warningDelay: histogram("warning_delay_seconds", "From the event time of what raised a warning to its being readable.", DELAY_SECONDS),
  conditions: gauge("site_conditions_open", "Open conditions of a site by kind and state.", ["site", "kind", "state"]),
  conditionsRaised: counter("site_conditions_raised", "Conditions raised since this process started.", ["kind"]),

  siteHeartbeat: gauge("site_last_heartbeat_timestamp_seconds", "Time of the site's latest heartbeat, as the site says it.", ["site"]),
  siteHeartbeats: counter("site_heartbeats", "Heartbeats of the site.", ["site"]),
  sitePass: gauge("site_last_pass_timestamp_seconds", "Time of the end of the site's latest pass.", ["site"]),
  sitePasses: counter("site_passes", "Passes assembled.", ["site"]),
  siteAxles: counter("site_axles", "Axles of assembled passes.", ["site"]),
  siteRejected: counter("site_rejected", "Records of the site that could not be read.", ["site"]),
  siteBias: gauge(
    "site_scanner_bias_celsius",
    "Learned bias of a scanner against its neighbours, a temperature difference (1 °C is 1.8 °F).",
    ["site", "track", "rail"],
  ),

  webhookUp: gauge("webhook_up", "1 when the latest delivery to the endpoint succeeded.", ["endpoint"]),
  webhookDeliveries: counter("webhook_deliveries", "Deliveries tried, by outcome: delivered or failed.", ["endpoint", "outcome"]),
  webhookBehind: gauge("webhook_records_behind", "Warnings still to be delivered to the endpoint.", ["endpoint"]),
  webhookOldest: gauge("webhook_oldest_pending_timestamp_seconds", "When the oldest warning not delivered yet was first tried.", [
    "endpoint",
  ]),

  feedRecords: counter("feed_records", "Records offered to an input, by outcome: accepted, refused or overloaded.", ["input", "outcome"]),
  feedBytes: counter("feed_bytes", "Bytes taken by an input.", ["input"]),
  feedAppendSeconds: histogram("feed_append_seconds", "From a batch taken to its being durable.", WORK_SECONDS, ["input"]),

  deskClients: gauge("desk_clients", "Pages connected for live updates."),
  deskClientsDropped: counter("desk_clients_dropped", "Pages disconnected because they read too slowly."),
  deskActions: counter("desk_actions", "Actions taken at the desk, by kind.", ["action"]),
  deskSignInsRefused: counter("desk_sign_ins_refused", "Sign-ins refused."),

  dataFreeBytes: gauge("data_free_bytes", "Free bytes of the file system with the data folder."),
  dataSizeBytes: gauge("data_size_bytes", "Size of the file system with the data folder."),
} as const satisfies Record<string, Metric>;

export type MetricKey = keyof typeof METRICS;
