import { type Dashboard, NAME, rising, STEP } from "./panel.ts";

const CHOSEN = '{site=~"$site"}';
/** A temperature difference from °C to °F: without the 32. */
const TO_FAHRENHEIT = "* 9 / 5";

/** For the team that keeps the sites alive. */
export const sites: Dashboard = {
  uid: "bearing-rise-sites",
  title: "bearing-rise: sites",
  words: "Which sites are dead, silent or sick, as the feed itself shows it. `bearing-rise sites` and the desk show the evidence.",
  choose: { label: "site", from: NAME.sitePasses },
  rows: [
    {
      title: "What needs attention",
      panels: [
        {
          title: "Open conditions",
          words: "How many devices of the site are in each condition. Shelved ones do not page.",
          kind: "table",
          unit: "short",
          width: 14,
          queries: [{ expr: `max by (site, kind, state) (${NAME.conditions}${CHOSEN}) > 0`, legend: "" }],
        },
        {
          title: "Conditions raised in a day",
          words: "By kind. One kind at many sites at once is seldom so many faults.",
          kind: "timeseries",
          unit: "short",
          width: 10,
          queries: [{ expr: `max by (kind) (increase(${NAME.conditionsRaised}[1d]))`, legend: "{{kind}}" }],
        },
      ],
    },
    {
      title: "Heartbeats and trains",
      panels: [
        {
          title: "Since the last heartbeat",
          words: "By the site's own clock: a steady offset is its clock, not its health.",
          kind: "timeseries",
          unit: "s",
          width: 12,
          queries: [{ expr: `time() - max by (site) (${NAME.siteHeartbeat}${CHOSEN})`, legend: "{{site}}" }],
        },
        {
          title: "Heartbeats in an hour",
          words: "Fewer than before: a connection that comes and goes.",
          kind: "timeseries",
          unit: "short",
          width: 12,
          queries: [{ expr: `sum by (site) (increase(${NAME.siteHeartbeats}${CHOSEN}[1h]))`, legend: "{{site}}" }],
        },
        {
          title: "Since the last pass",
          words: "Long for one site between others that see trains: silent.",
          kind: "timeseries",
          unit: "s",
          width: 12,
          queries: [{ expr: `time() - max by (site) (${NAME.sitePass}${CHOSEN})`, legend: "{{site}}" }],
        },
        {
          title: "Passes in an hour",
          words: "Neighbours on one line see the same trains.",
          kind: "timeseries",
          unit: "short",
          width: 12,
          queries: [{ expr: `sum by (site) (increase(${NAME.sitePasses}${CHOSEN}[1h]))`, legend: "{{site}}" }],
        },
        {
          title: "Axles in an hour",
          words: "Neighbours on one line see the same axles; a steady difference is a miscount.",
          kind: "timeseries",
          unit: "short",
          width: 12,
          queries: [{ expr: `sum by (site) (increase(${NAME.siteAxles}${CHOSEN}[1h]))`, legend: "{{site}}" }],
        },
      ],
    },
    {
      title: "Scanners and records",
      panels: [
        {
          title: "Scanner bias, °F",
          words: "Against its neighbours' readings of the same bearings. It is taken out here; the site's own limit works on raw readings.",
          kind: "timeseries",
          unit: "fahrenheit",
          width: 12,
          queries: [
            { expr: `max by (site, track, rail) (${NAME.siteBias}${CHOSEN}) ${TO_FAHRENHEIT}`, legend: "{{site}} {{track}} {{rail}}" },
          ],
          steps: rising(12, 20),
        },
        {
          title: "Rejected records",
          words: "Each is in the topic rejected with its reason.",
          kind: "timeseries",
          unit: "ops",
          width: 12,
          queries: [{ expr: `sum by (site) (rate(${NAME.siteRejected}${CHOSEN}${STEP}))`, legend: "{{site}}" }],
        },
      ],
    },
  ],
};
