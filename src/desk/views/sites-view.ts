import type { Calibration } from "../../bearing/calibration.ts";
import type { Railroad } from "../../line/railroad.ts";
import type { SiteCondition } from "../../site/condition.ts";
import type { DeskState } from "../board/desk-state.ts";
import type { SiteState, Sites, TestRun } from "../board/sites.ts";
import type { ClockView } from "./clock-view.ts";
import type { SitesView, TestRunView } from "./shapes.ts";

/** Closed conditions listed of one site, and tests listed. */
const PAST_CONDITIONS = 8;
const MOST_TESTS = 60;
/** Lines shown of the engine's record of a test. */
const MOST_LINES = 60;

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
  return state.sites
    .testList()
    .sort((a, b) => b.begunMs - a.begunMs)
    .slice(0, MOST_TESTS)
    .map((run) => testView(railroad, run));
}

function siteView(sites: Sites, railroad: Railroad, one: SiteState): SitesView["sites"] {
  const site = railroad.sites.get(one.site);
  if (site === undefined) return [];
  const all = sites.conditionList(true).filter((condition) => condition.site === site.id);
  const open = all.filter((condition) => condition.state === "raised");
  const tests = sites.testList().filter((run) => run.site === site.id && run.endedMs !== null);
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
      testDue: open.find((condition) => (condition.kind as string) === "test-due")?.words ?? null,
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
  const { id, version, site, device, kind, state, raisedAt, time, words, advice, evidence } = condition;
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

export function testView(railroad: Railroad, run: TestRun): TestRunView {
  const { record, ...shown } = run;
  return { ...shown, name: railroad.sites.get(run.site)?.name ?? run.site, words: record === null ? [] : recordLines(record) };
}

/** The engine's record as lines, whatever it holds: the printed record leaves nothing out. */
function recordLines(record: Readonly<Record<string, unknown>>): string[] {
  return Object.entries(record)
    .filter(([, value]) => value !== null && value !== undefined)
    .map(([name, value]) => `${name}: ${typeof value === "object" ? JSON.stringify(value) : String(value)}`)
    .slice(0, MOST_LINES);
}
