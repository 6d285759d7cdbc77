/**
 * Every event name a log line may carry. They are stable: alerts on logs, runbooks and saved searches hang on them, so a
 * name is added, never changed. A line stands for something that happened to the program, never for a record.
 */
export const LOG_EVENTS = [
  // the process
  "process-starting",
  "process-ready",
  "process-stopping",
  "process-stopped",
  "process-failed",
  "rules-changed",
  "rules-refused",
  "line-changed",
  "line-refused",
  // a task: one input partition of one stage
  "task-fenced",
  "task-recovering",
  "task-running",
  "task-broken",
  "task-dropped",
  "task-stalled",
  "commit-unknown",
  "member-joined",
  "member-left",
  "member-broken",
  // the log
  "log-opened",
  "log-trimmed",
  "log-failed",
  "log-overloaded",
  "broker-lost",
  "topic-created",
  // feed inputs
  "feed-opened",
  "feed-closed",
  "feed-refused",
  "feed-file-taken",
  "feed-file-done",
  "feed-file-failed",
  // webhooks
  "webhook-opened",
  "webhook-failing",
  "webhook-recovered",
  "webhook-gave-up",
  "webhook-closed",
  // the desk
  "desk-opened",
  "desk-closed",
  "desk-sign-in-refused",
  "desk-action-refused",
  // sites
  "site-condition-raised",
  "site-condition-cleared",
  // warnings
  "warning-raised",
  "warning-late",
  // telemetry itself
  "telemetry-opened",
  "telemetry-closed",
  "published-unreadable",
  "alert-received",
  "switch-armed",
  "switch-fired",
  "switch-recovered",
  "switch-untold",
] as const;

export type LogEvent = (typeof LOG_EVENTS)[number];
