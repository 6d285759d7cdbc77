import { atLeast, type Dashboard, NAME, quantile, rising, STEP } from "./panel.ts";

/** For the operations centre: is what was found reaching people, and how old is what they see? */
export const operations: Dashboard = {
  uid: "bearing-rise-operations",
  title: "bearing-rise: operations",
  words: "Whether what was found reaches people, and how old it is. Advice only: the sites' own alarms and the operating rules govern.",
  rows: [
    {
      title: "Now",
      panels: [
        {
          title: "Open warnings",
          words: "Neither cleared nor withdrawn. The desk shows each with its evidence.",
          kind: "stat",
          unit: "short",
          width: 6,
          queries: [{ expr: `max by (level) (sum by (instance, level) (${NAME.warningsOpen}))`, legend: "{{level}}" }],
        },
        {
          title: "Longest unacknowledged",
          words: "How long the oldest warning of each level has waited. A limit pages after 5 minutes, a warn after 15.",
          kind: "stat",
          unit: "s",
          width: 6,
          queries: [{ expr: `time() - min by (level) (${NAME.oldestUnacknowledged}{level=~"warn|limit"}) > 0`, legend: "{{level}}" }],
          steps: rising(180, 300),
        },
        {
          title: "Age of the data",
          words: "How old the newest is that has come through everything. Warnings come late by as much.",
          kind: "stat",
          unit: "s",
          width: 6,
          queries: [{ expr: `time() - min(${NAME.heartbeat})`, legend: "oldest partition" }],
          steps: rising(15, 60),
        },
        {
          title: "Pages of the desk open",
          words: "Nobody looking for a quarter of an hour pages.",
          kind: "stat",
          unit: "short",
          width: 6,
          queries: [{ expr: `sum(${NAME.deskClients})`, legend: "pages" }],
          steps: atLeast(1),
        },
        {
          title: "Alerts firing",
          words: "Each has a runbook in deploy/runbooks/ of its name. The watchdog is left out: it always fires.",
          kind: "table",
          unit: "short",
          width: 24,
          queries: [{ expr: 'ALERTS{alertstate="firing",severity!="watchdog"}', legend: "" }],
        },
      ],
    },
    {
      title: "Warnings",
      panels: [
        {
          title: "Raised in an hour",
          words: "Warnings first raised, or raised to a higher level. As each process tells all, the greatest is shown.",
          kind: "timeseries",
          unit: "short",
          width: 12,
          queries: [
            {
              expr: `max by (level) (sum by (instance, level) (increase(${NAME.warnings}{change=~"raised|raised-further"}[1h])))`,
              legend: "{{level}}",
            },
          ],
        },
        {
          title: "Corrected and withdrawn in an hour",
          words: "A late pass changed what had been said. Many point at partitions far apart in time, or at a clock.",
          kind: "timeseries",
          unit: "short",
          width: 12,
          queries: [
            {
              expr: `max by (change) (sum by (instance, change) (increase(${NAME.warnings}{change=~"corrected|withdrawn"}[1h])))`,
              legend: "{{change}}",
            },
          ],
        },
        {
          title: "From the pass to a readable warning",
          words: "Includes how late the site sends. The steps of the pipeline are on its own dashboard.",
          kind: "timeseries",
          unit: "s",
          width: 12,
          queries: [
            { expr: quantile(0.5, "warningDelay"), legend: "half within" },
            { expr: quantile(0.99, "warningDelay"), legend: "99 % within" },
          ],
        },
        {
          title: "Actions at the desk",
          words: "What people did, by kind.",
          kind: "timeseries",
          unit: "short",
          width: 12,
          queries: [{ expr: `sum by (action) (increase(${NAME.deskActions}[1h]))`, legend: "{{action}}" }],
        },
      ],
    },
    {
      title: "Webhooks",
      panels: [
        {
          title: "Endpoints",
          words: "1: the latest delivery succeeded. 0 for five minutes pages.",
          kind: "state-timeline",
          unit: "short",
          width: 12,
          queries: [{ expr: `max by (endpoint) (${NAME.webhookUp})`, legend: "{{endpoint}}" }],
          steps: atLeast(1),
        },
        {
          title: "Waiting for delivery",
          words: "Kept and tried again; never dropped.",
          kind: "timeseries",
          unit: "short",
          width: 6,
          queries: [{ expr: `max by (endpoint) (${NAME.webhookBehind})`, legend: "{{endpoint}}" }],
        },
        {
          title: "Deliveries",
          words: "Tried, by outcome.",
          kind: "timeseries",
          unit: "ops",
          width: 6,
          queries: [{ expr: `sum by (endpoint, outcome) (rate(${NAME.webhookDeliveries}${STEP}))`, legend: "{{endpoint}} {{outcome}}" }],
        },
      ],
    },
  ],
};
