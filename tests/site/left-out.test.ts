import { describe, expect, it } from "vitest";
import { decode } from "../../src/feed/decode.ts";
import { RailroadFlow } from "../../src/flow/railroad-flow.ts";
import type { SiteCondition } from "../../src/site/condition.ts";
import type { LeftOut } from "../../src/site/watch.ts";
import { type Arrival, demoRailroad, demoRules, emptyFolded, type Folded, simulated, sinkInto } from "../flow/folded.ts";

const railroad = demoRailroad();
const rules = demoRules();
const SITE = "coldrill-44";

interface Told extends Folded {
  leftOut: { pass: string; why: LeftOut }[];
  tests: string[];
}

function fold(feed: readonly Arrival[]): Told {
  const folded: Told = { ...emptyFolded(), leftOut: [], tests: [] };
  const flow = new RailroadFlow(railroad, rules, {
    ...sinkInto(folded),
    leftOut: (pass, why) => folded.leftOut.push({ pass: pass.id, why }),
    functionalTest: (record) => folded.tests.push(`${record.closed} ${record.result} ${record.trains.length}`),
  });
  feed.forEach(({ topic, json }, offset) => {
    const { record } = decode(topic, json, { topic, partition: 0, offset });
    if (record !== undefined) folded.outcomes[flow.step(record, topic, 0, offset)]++;
  });
  flow.finish();
  return folded;
}

const START_MS = Date.parse("2026-03-04T00:00:00.000Z");
const iso = (ms: number) => new Date(ms).toISOString();

function arrival(topic: string, key: string, value: object, atMs: number): Arrival {
  return { topic, key, json: JSON.stringify(value), atMs };
}

const among = (feed: readonly Arrival[], more: readonly Arrival[]) =>
  [...feed, ...more]
    .map((one, k) => ({ one, k }))
    .sort((a, b) => a.one.atMs - b.one.atMs || a.k - b.k)
    .map(({ one }) => one);

/** Eight axles made by hand, one of them over a heat source, half an hour into a test. */
function handMadePass(fromMs: number): Arrival[] {
  const key = `${SITE}/1`;
  const about = { site: SITE, track: "1", pass: "9001" };
  const heat = [20, 20, 20, 215, 20, 20, 20, 20];
  return [
    arrival("axle-readings", key, { type: "pass-begun", ...about, time: iso(fromMs), direction: "rising", ambient: 54 }, fromMs),
    arrival(
      "axle-readings",
      key,
      {
        type: "axles",
        ...about,
        first: 1,
        ms: heat.map((_, k) => k * 120),
        gap: heat.map((_, k) => (k === 0 ? null : 70)),
        speed: heat.map(() => 33),
        left: { bearing: heat },
        right: { bearing: heat.map(() => 20) },
      },
      fromMs + 2_000,
    ),
    arrival("axle-readings", key, { type: "pass-ended", ...about, time: iso(fromMs + 10_000), axles: 8, integrity: [] }, fromMs + 10_000),
  ];
}

function phase(what: "begun" | "ended", ms: number, cameMs = ms): Arrival {
  const expects = ["1/left", "transducer-1", "transducer-2", "axles-8", "direction-rising"];
  return arrival(
    "site-reports",
    SITE,
    { type: "functional-test", site: SITE, track: "1", time: iso(ms), phase: what, tester: "maintainer", expects },
    cameMs,
  );
}

const { feed } = simulated({ seed: 31, hours: 5, world: "ordinary", trainsPerDay: 60 }, railroad);
const fromMs = START_MS + 3 * 3_600_000;

describe("what is left out of journeys and warnings", () => {
  it("a hot axle of a simulated train is a limit without a test, and nothing during one", () => {
    const alone = fold(among(feed, handMadePass(fromMs)));
    expect(alone.warnings.some(({ level, site, pass }) => level === "limit" && site === SITE && pass.includes("9001"))).toBe(true);
    const tested = fold(among(feed, [phase("begun", fromMs - 60_000), ...handMadePass(fromMs), phase("ended", fromMs + 600_000)]));
    expect(tested.warnings.some(({ pass }) => pass.includes("9001"))).toBe(false);
    expect(tested.leftOut).toEqual([{ pass: expect.stringContaining("/9001@"), why: "functional-test" }]);
    expect(tested.joins.some((join) => join.includes("/9001@"))).toBe(false);
    expect(tested.tests.length).toBe(1);
  });

  it("a test whose begin comes after its simulated train takes back what was said of it", () => {
    const late = fold(
      among(feed, [phase("begun", fromMs - 60_000, fromMs + 300_000), ...handMadePass(fromMs), phase("ended", fromMs + 600_000)]),
    );
    const said = late.warnings.filter(({ pass }) => pass.includes("9001"));
    expect(said[0]?.state).toBe("unacknowledged");
    expect(said.at(-1)).toMatchObject({ state: "withdrawn", correction: true });
    expect(new Set(said.map(({ id }) => id)).size).toBe(1);
    expect(late.joins.some((join) => join.includes("/9001@"))).toBe(false);
    const punctual = fold(among(feed, [phase("begun", fromMs - 60_000), ...handMadePass(fromMs), phase("ended", fromMs + 600_000)]));
    expect(late.joins).toEqual(punctual.joins);
    expect(late.tests).toEqual(punctual.tests);
  });

  it("a test around real trains leaves every one of them where it was", () => {
    const plain = fold(feed);
    const tested = fold(among(feed, [phase("begun", START_MS + 3_600_000), phase("ended", START_MS + 2.5 * 3_600_000)]));
    expect(tested.joins).toEqual(plain.joins);
    expect(tested.leftOut).toEqual([]);
  });

  it("a site out of service joins nothing until it returns, and the trains join over it", () => {
    const plain = fold(feed);
    const out = {
      type: "desk-action",
      id: "a-1",
      time: iso(START_MS + 3_600_000),
      by: "maintainer",
      action: "out-of-service",
      site: SITE,
      text: "new rails",
      until: iso(START_MS + 4 * 3_600_000),
    };
    const back = {
      type: "desk-action",
      id: "a-2",
      time: iso(START_MS + 3 * 3_600_000),
      by: "maintainer",
      action: "return-to-service",
      site: SITE,
    };
    const folded = fold(
      among(feed, [
        arrival("desk-actions", SITE, out, START_MS + 3_600_000),
        arrival("desk-actions", SITE, back, START_MS + 3 * 3_600_000),
      ]),
    );
    expect(folded.leftOut.length).toBeGreaterThan(0);
    expect(folded.leftOut.every(({ pass, why }) => why === "out-of-service" && pass.startsWith(SITE))).toBe(true);
    for (const { pass } of folded.leftOut) expect(folded.joins.some((join) => join.includes(` ${pass} `))).toBe(false);
    expect(folded.passes).toEqual(plain.passes);
    const conditions = folded.conditions.map((json) => JSON.parse(json) as SiteCondition).filter(({ kind }) => kind === "out-of-service");
    expect(conditions.map(({ state, alarm, reason }) => [state, alarm, reason])).toEqual([
      ["raised", "out-of-service", "new rails"],
      ["cleared", "normal", "new rails"],
    ]);
  });

  it("a site out of service is said in the warnings of the trains that run over it or come to it", () => {
    const busy = simulated({ seed: 31, hours: 8, world: "sick", trainsPerDay: 60 }, railroad).feed;
    const out = {
      type: "desk-action",
      id: "a-1",
      time: iso(START_MS + 1_800_000),
      by: "maintainer",
      action: "out-of-service",
      site: SITE,
      text: "new rails",
    };
    const folded = fold(among(busy, [arrival("desk-actions", SITE, out, START_MS + 1_800_000)]));
    const name = railroad.sites.get(SITE)!.name;
    const reasons = folded.warnings.flatMap((warning) => warning.reasons.filter((reason) => reason.includes("out of service")));
    expect(new Set(reasons)).toContain(`${name}, the next site, is out of service: the train will not be measured there.`);
    expect(new Set(reasons)).toContain(`${name}, which the train ran over before, is out of service: it was not measured there.`);
    const plain = fold(busy).warnings;
    expect(plain.some((warning) => warning.reasons.some((reason) => reason.includes("out of service")))).toBe(false);
    // What comes next is the next site that measures: the gap is longer than the line's.
    const outFrom = iso(START_MS + 1_800_000);
    const next = folded.warnings.filter(({ time, nextSite }) => time > outFrom && nextSite !== null);
    expect(plain.some(({ nextSite }) => nextSite?.site === SITE)).toBe(true);
    expect(next.length).toBeGreaterThan(0);
    expect(next.some(({ nextSite }) => nextSite?.site === SITE)).toBe(false);
  });

  it("a site taken out of service after the fact, within lateness, ends the same", () => {
    const out = {
      type: "desk-action",
      id: "a-1",
      time: iso(START_MS + 3_600_000),
      by: "maintainer",
      action: "out-of-service",
      site: SITE,
      text: "new rails",
    };
    const prompt = fold(among(feed, [arrival("desk-actions", SITE, out, START_MS + 3_600_000)]));
    const later = fold(among(feed, [arrival("desk-actions", SITE, out, START_MS + 2 * 3_600_000)]));
    expect([...later.joins].sort()).toEqual([...prompt.joins].sort());
    expect(later.leftOut.map(({ pass }) => pass).sort()).toEqual(prompt.leftOut.map(({ pass }) => pass).sort());
  });
});
