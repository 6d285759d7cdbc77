import { spawnSync } from "node:child_process";
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { afterAll, expect, test } from "vitest";
import { stringify } from "yaml";
import { siteCondition } from "../../src/feed/outbound/site-conditions.ts";
import { DEPLOY, RULE_FILES, rules, valuesOf } from "./deployed.ts";
import { withProgram } from "./programs.ts";

const CASES = fileURLToPath(new URL("./promtool/", import.meta.url));
const folder = mkdtempSync(join(tmpdir(), "bearing-rise-promtool-"));
afterAll(() => rmSync(folder, { recursive: true }));

function run(program: string, ...args: string[]): string {
  const { status, stdout, stderr } = spawnSync(program, args, { encoding: "utf8" });
  expect(status, stdout + stderr).toBe(0);
  return stdout;
}

withProgram("promtool", () => {
  test("Prometheus takes the rules and its own configuration", () => {
    run("promtool", "check", "rules", ...RULE_FILES);
    run("promtool", "check", "config", `${DEPLOY}prometheus/prometheus.yml`);
  });

  test.each(readdirSync(CASES))("alerts fire when they should and only then: %s", (name) => {
    run("promtool", "test", "rules", join(CASES, name));
  });

  test("each condition of a site raises its own alert and no other; shelved or out of service it raises none", () => {
    const path = join(folder, "sites.yml");
    writeFileSync(path, stringify(siteCases()));
    run("promtool", "test", "rules", path);
  });
});

withProgram("amtool", () => {
  test("Alertmanager takes its configuration", () => {
    run("amtool", "check-config", `${DEPLOY}alertmanager/alertmanager.yml`);
  });

  test.each([
    ["page", "pager"],
    ["ticket", "ticket"],
    ["watchdog", "watchdog"],
    ["unheard-of", "ticket"],
  ])("an alert of severity %s goes to %s", (severity, receiver) => {
    const file = `--config.file=${DEPLOY}alertmanager/alertmanager.yml`;
    expect(run("amtool", "config", "routes", "test", file, `severity=${severity}`).trim()).toBe(receiver);
  });
});

/**
 * One case per kind: raised at one site, shelved at a second, out of service at a third, cleared at a fourth; at a fifth the
 * process that told of it went away, which is no clearing for five minutes.
 */
function siteCases() {
  const alerts = rules().filter(({ expr }) => valuesOf(expr, "kind").length > 0);
  const open = (site: string, kind: string, state: string, values: string) => ({
    series: `bearing_rise_site_conditions_open{site="${site}",kind="${kind}",state="${state}",instance="a"}`,
    values,
  });
  const tests = siteCondition.shape.kind.options.map((kind) => ({
    name: kind,
    interval: "10s",
    input_series: [
      open("alder-14", kind, "unacknowledged", "_x6 1x60"),
      open("brock-27", kind, "shelved", "_x6 1x60"),
      open("coldrill-44", kind, "out-of-service", "_x6 1x60"),
      open("dunmere-53", kind, "unacknowledged", "1x3 0x60"),
      open("elmrigg-72", kind, "unacknowledged", "1x6 stale"),
    ],
    promql_expr_test: [
      { eval_time: "2m", sites: ["alder-14", "elmrigg-72"] },
      { eval_time: "8m", sites: ["alder-14"] },
    ].map(({ eval_time, sites }) => ({
      expr: 'ALERTS{alertstate="firing"}',
      eval_time,
      exp_samples: alerts
        .filter(({ expr }) => valuesOf(expr, "kind").includes(kind))
        .flatMap(({ alert, labels: { severity } }) =>
          sites.map((site) => ({
            labels: `ALERTS{alertname="${alert}", alertstate="firing", severity="${severity}", site="${site}"}`,
            value: 1,
          })),
        ),
    })),
  }));
  return { rule_files: [`${DEPLOY}prometheus/rules/sites.yml`], evaluation_interval: "10s", tests };
}
