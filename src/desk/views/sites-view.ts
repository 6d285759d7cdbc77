import type { Calibration } from "../../bearing/calibration.ts";
import type { Railroad } from "../../line/railroad.ts";
import type { SiteCondition } from "../../site/condition.ts";
import { type DeviceAnswer, TEST_CAUTION } from "../../site/functional-test.ts";
import type { DeskState } from "../board/desk-state.ts";
import type { SiteState, Sites } from "../board/sites.ts";
import type { TestRun, Tests } from "../board/tests.ts";
import type { ClockView } from "./clock-view.ts";
import type { SitesView } from "./sites-shape.ts";
import type { TestRunView } from "./test-shape.ts";

/** Closed conditions listed of one site, and tests listed. */
const PAST_CONDITIONS = 8;
const MOST_TESTS = 60;

/** Every site: what is the matter, when it was last heard, its scanners' bias, its tests. Those that need somebody come first. */
export function sitesView(state: DeskState, railroad: Railroad, clock: ClockView): SitesView {
  const { sites } = state;
  const views = sites.siteStates().flatMap((one) => siteView(sites, railroad, one));
  const order = ["dead", "silent", "attention", "unheard", "well"];
  views.sort(
    (a, b) =>
      order.indexOf(a.standing) - order.indexOf(b.standing) || (a.line < b.line ? -1 : a.line > b.line ? 1 : a.milepost - b.milepost),
  );
  return { clock, sites: views, tests: testsView(state, railroad) };
}

export function testsView(state: DeskState, railroad: Railroad): TestRunView[] {
  const { tests } = state.sites;
  return tests
    .all()
    .sort((a, b) => b.begunMs - a.begunMs)
    .slice(0, MOST_TESTS)
    .map((run) => testView(railroad, tests, run));
}

function siteView(sites: Sites, railroad: Railroad, one: SiteState): SitesView["sites"] {
  const site = railroad.sites.get(one.site);
  if (site === undefined) return [];
  const all = sites.conditionList(true).filter((condition) => condition.site === site.id);
  const open = all.filter((condition) => condition.state === "raised");
  const tests = sites.tests.all().filter((run) => run.site === site.id && run.endedMs !== null);
  return [
    {
      site: site.id,
      name: site.name,
      line: site.line,
      milepost: site.milepost,
      tracks: site.tracks.map((track) => track.id),
      standing: standingOf(one, open),
      lastHeardMs: one.lastHeardMs,
      lastPassMs: one.lastPassMs,
      ambient: one.ambient,
      supplyVolts: one.supplyVolts,
      references: Object.entries(one.references).map(([device, reference]) => ({ device, reference })),
      conditions: open.map(conditionView),
      past: all
        .filter((condition) => condition.state === "cleared")
        .slice(-PAST_CONDITIONS)
        .reverse()
        .map(conditionView),
      faults: sites.openFaults(site.id).map(({ device, fault, time }) => ({ device, fault, sinceMs: Date.parse(time) })),
      biases: sites.calibrationsOf(site.id).map(biasView),
      lastTestMs: tests.length === 0 ? null : Math.max(...tests.map((run) => run.endedMs ?? 0)),
      testDue: open.find((condition) => condition.kind === "test-due")?.words ?? null,
    },
  ];
}

function standingOf(one: SiteState, open: readonly SiteCondition[]): SitesView["sites"][number]["standing"] {
  if (open.some((condition) => condition.kind === "dead")) return "dead";
  if (open.some((condition) => condition.kind === "silent")) return "silent";
  if (open.length > 0) return "attention";
  return one.lastHeardMs === null ? "unheard" : "well";
}

export function conditionView(condition: SiteCondition): SitesView["sites"][number]["conditions"][number] {
  const { id, version, site, device, kind, state, raisedAt, time, words, advice, evidence, alarm, by, reason, until } = condition;
  return {
    id,
    version,
    site,
    device,
    kind,
    state,
    raisedMs: Date.parse(raisedAt),
    changedMs: Date.parse(time),
    words,
    advice,
    evidence: [...evidence],
    alarm: alarm ?? null,
    by: by ?? null,
    reason: reason ?? null,
    untilMs: until === undefined ? null : Date.parse(until),
  };
}

function biasView(kept: readonly Calibration[]): SitesView["sites"][number]["biases"][number] {
  const last = kept.at(-1)!;
  return {
    scanner: `${last.track}/${last.rail}`,
    biasF: last.biasF,
    sdF: last.sdF,
    trains: last.trains,
    trend: kept.map((one): [number, number] => [one.effectiveFromMs, one.biasF]),
  };
}

function testView(railroad: Railroad, tests: Tests, run: TestRun): TestRunView {
  const { id, site, track, tester, begunMs, endedMs, expects, trains, record } = run;
  return {
    id,
    site,
    name: railroad.sites.get(site)?.name ?? site,
    track,
    tester,
    begunMs,
    endedMs,
    expects,
    devices: tests.proofs(run).map((proof) => ({ ...proof, asFound: answerView(proof.asFound), asLeft: answerView(proof.asLeft) })),
    trains: record?.trains.length ?? trains.length,
    result: record?.result ?? null,
    closed: record?.closed ?? null,
    checks: record?.checks ?? [],
    conditionsAsFound: record?.conditionsAsFound ?? [],
    conditionsAsLeft: record?.conditionsAsLeft ?? [],
    words: record?.words ?? null,
    caution: record?.caution ?? TEST_CAUTION,
  };
}

function answerView(answer: DeviceAnswer | null): TestRunView["devices"][number]["asFound"] {
  if (answer === null) return null;
  const { time, riseF, announced, verdict } = answer;
  return { timeMs: Date.parse(time), riseF, announced, verdict };
}
