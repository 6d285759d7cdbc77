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
  "config-taken",
  "config-refused",
  "line-changed",
  "line-refused",
  "rules-changed",
  "rules-refused",
  // a task: one input partition of one stage
  "task-fenced",
  "task-recovering",
  "task-running",
  "task-broken",
  "task-dropped",
  "task-stalled",
  "task-behind",
  "task-caught-up",
  "commit-unknown",
  "member-joined",
  "member-left",
  "member-broken",
  // the log
  "log-opened",
  "log-closed",
  "log-trimmed",
  "log-failed",
  "log-overloaded",
  "broker-connected",
  "broker-lost",
  "topic-created",
  "topic-differs",
  // feed inputs
  "feed-opened",
  "feed-closed",
  "feed-refused",
  "feed-file-taken",
  "feed-file-done",
  "feed-file-failed",
  "clock-off",
  // webhooks
  "webhook-opened",
  "webhook-failing",
  "webhook-recovered",
  "webhook-gave-up",
  "webhook-closed",
  // the desk
  "desk-opened",
  "desk-closed",
  "desk-signed-in",
  "desk-sign-in-refused",
  "desk-action-taken",
  "desk-action-refused",
  "desk-client-dropped",
  // sites
  "site-condition-raised",
  "site-condition-cleared",
  "functional-test-begun",
  "functional-test-ended",
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
