import { readdirSync, readFileSync } from "node:fs";
import { basename } from "node:path";
import { fileURLToPath } from "node:url";
import { describe, expect, test } from "vitest";
import { parse } from "yaml";
import { siteCondition } from "../../src/feed/outbound/site-conditions.ts";
import { warning } from "../../src/feed/outbound/warnings.ts";
import { CONDITION_KINDS, PRIORITY } from "../../src/site/condition.ts";
import { LOG_EVENTS } from "../../src/telemetry/log-event.ts";
import { FEED_OUTCOMES, TASK_STATES } from "../../src/telemetry/metrics.ts";
import { DEPLOY, knownSeries, RULE_FILES, type Rule, rules, strangersIn, valuesOf } from "./deployed.ts";

const RUNBOOKS = readdirSync(`${DEPLOY}runbooks`);
const PROMTOOL = fileURLToPath(new URL("./promtool/", import.meta.url));
const known = await knownSeries();
const all = rules();
const named = all.map((rule) => [rule.alert, rule] as const);

test("no alert stands twice", () => {
  expect(new Set(all.map(({ alert }) => alert)).size).toBe(all.length);
});

describe("every alert", () => {
  test.each(named)("%s asks only for what is measured", (_, rule) => {
    expect(strangersIn(rule.expr, known)).toEqual([]);
    expect(rule.expr).toMatch(/bearing_rise_|nodejs_|process_|\bup\b/);
  });

  test.each(named)("%s holds labels against values that exist", (_, rule) => {
    const states = [...TASK_STATES, ...siteCondition.shape.alarm.unwrap().options, ...warning.shape.state.options];
    expect(new Set(states)).toEqual(new Set([...states, ...valuesOf(rule.expr, "state")]));
    for (const kind of valuesOf(rule.expr, "kind")) expect(siteCondition.shape.kind.options).toContain(kind);
    for (const level of valuesOf(rule.expr, "level")) expect(warning.shape.level.options).toContain(level);
    const outcomes = [...FEED_OUTCOMES, "used", "late", "repeated", "rejected", "committed", "fenced", "unknown", "failed", "delivered"];
    for (const outcome of valuesOf(rule.expr, "outcome")) expect(outcomes).toContain(outcome);
  });

  test.each(named)("%s says how urgent it is, and in words what it means", (_, rule) => {
    expect(["page", "ticket", "watchdog"]).toContain(rule.labels.severity);
    expect(rule.annotations.summary).toMatch(/\.$/);
    expect(rule.annotations.description).toMatch(/\.$/);
  });

  test.each(named)("%s has a runbook: what it means, what to check first, what must not be done", (alert, rule) => {
    expect(rule.annotations.runbook).toBe(`deploy/runbooks/${alert}.md`);
    expect(RUNBOOKS).toContain(`${alert}.md`);
    const text = readFileSync(`${DEPLOY}runbooks/${alert}.md`, "utf8");
    const parts = text.split(/^## /m).map((part) => part.trim());
    expect(parts.map((part) => part.split("\n")[0])).toEqual([`# ${alert}`, "What it means", "Check first", "Must not be done"]);
    for (const part of parts.slice(1)) expect(part.length, part).toBeGreaterThan(60);
    const urgency = { page: "Pages.", ticket: "Opens a ticket.", watchdog: "Always firing; its silence pages." }[rule.labels.severity];
    expect(parts[0]).toContain(urgency);
  });

  test.each(named)("%s is tested firing and quiet", (alert, rule) => {
    if (valuesOf(rule.expr, "kind").length > 0) return expect(all.filter(({ expr }) => expr === rule.expr)).toHaveLength(1);
    const tested = readdirSync(PROMTOOL).flatMap((name) => alertChecks(readFileSync(`${PROMTOOL}${name}`, "utf8"), alert));
    expect(new Set(tested)).toEqual(new Set(["firing", "quiet"]));
  });
});

function alertChecks(text: string, alert: string): string[] {
  const file = parse(text) as { tests: { promql_expr_test: { expr: string; exp_samples: unknown[] }[] }[] };
  const checks = file.tests.flatMap((each) => each.promql_expr_test).filter(({ expr }) => expr.includes(`alertname="${alert}"`));
  return checks.map(({ exp_samples }) => (exp_samples.length > 0 ? "firing" : "quiet"));
}

test.each(CONDITION_KINDS)("a condition %s alerts as its priority says", (kind) => {
  const severity = { high: "page", medium: "ticket", low: "ticket", information: null }[PRIORITY[kind]];
  const alerts = all.filter(({ expr }) => valuesOf(expr, "kind").includes(kind));
  expect(alerts.map(({ labels }) => labels.severity)).toEqual(severity === null ? [] : [severity]);
});

describe("every runbook", () => {
  test.each(RUNBOOKS)("%s belongs to an alert and names only what exists", (name) => {
    expect(all.map(({ alert }) => `${alert}.md`)).toContain(name);
    const text = readFileSync(`${DEPLOY}runbooks/${name}`, "utf8");
    for (const [, code = ""] of text.matchAll(/`([^`]+)`/g)) {
      // A histogram is named without a suffix there.
      const names = new Set([...known.keys(), ...[...known.keys()].map((series) => series.replace(/_bucket$/, ""))]);
      expect(strangersIn(code, known).filter((stranger) => !names.has(stranger))).toEqual([]);
    }
    // After "line" or "lines" stand names of log events.
    for (const [, names = ""] of text.matchAll(/\b[Ll]og lines? ((?:`[a-z-]+`(?:, | or )?)+)/g)) {
      for (const [, event = ""] of names.matchAll(/`([a-z-]+)`/g)) expect(LOG_EVENTS).toContain(event);
    }
    for (const [, link = ""] of text.matchAll(/\]\(([^)]+)\)/g)) expect(RUNBOOKS).toContain(link);
  });
});

describe("what the checks above hang on", () => {
  test("a name that does not exist is found", () => {
    expect(strangersIn("rate(bearing_rise_axels_total[5m]) > 0", known)).toEqual(["bearing_rise_axels_total"]);
    expect(strangersIn('bearing_rise_site_axles_total{train="Q118"}', known)).toEqual(["bearing_rise_site_axles_total{train}"]);
    expect(strangersIn("bearing_rise_commit_seconds > 1", known)).toEqual(["bearing_rise_commit_seconds"]);
    expect(strangersIn("nodejs_eventloop_lag_p98_seconds", known)).toEqual(["nodejs_eventloop_lag_p98_seconds"]);
    expect(strangersIn('min by (site) (bearing_rise_site_axles_total{site="a"}) and up == 1', known)).toEqual([]);
  });

  test("every file of rules is read", () => {
    expect(RULE_FILES.map((path) => basename(path)).sort()).toEqual(["operations.yml", "pipeline.yml", "sites.yml"]);
    expect(all.every((rule: Rule) => typeof rule.alert === "string")).toBe(true);
  });
});
