import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { passOfRecord, recordOfPass } from "../../src/pass/pass-record.ts";
import type { Warning } from "../../src/warning/warning.ts";
import { type Arrival, demoRailroad, demoRules, fold, simulated, standing } from "./folded.ts";
import { feedInOtherUnits, inOtherUnits, mirrored, mirroredFeed } from "./mirrored.ts";

const railroad = demoRailroad();
const rules = demoRules();
const { feed } = simulated({ seed: 13, hours: 9, world: "mixed", trainsPerDay: 90 }, railroad);
const plain = fold(feed, railroad, rules);

const MINUTE_MS = 60_000;

/** The same records with every site held back by its own delay; within one site and track the order stays. */
function delayed(records: readonly Arrival[], delayMs: (key: string) => number): Arrival[] {
  return records
    .map((record, at) => ({ record, at, arrives: record.atMs + delayMs(record.key.split("/")[0] ?? "") }))
    .sort((a, b) => a.arrives - b.arrives || a.at - b.at)
    .map(({ record }) => record);
}

describe("the way of the data", () => {
  it("finds something to say on this day, or the rest of these tests prove nothing", () => {
    expect(plain.passes.length).toBeGreaterThan(60);
    expect(plain.warnings.length).toBeGreaterThan(3);
    expect(plain.joins.filter((join) => join.includes(" joins ")).length).toBeGreaterThan(40);
  });

  it("same log in, same bytes out", () => {
    expect(fold(feed, railroad, rules)).toEqual(plain);
  });

  it("every record is used, late, repeated or rejected", () => {
    const { used, late, repeated, rejected } = plain.outcomes;
    expect(used + late + repeated + rejected).toBe(feed.length);
    expect(plain.rejected.length).toBe(rejected);
  });

  it("feeding a record twice changes nothing", () => {
    const twice = feed.flatMap((record, at) => (at % 3 === 0 ? [record, record] : [record]));
    const folded = fold(twice, railroad, rules);
    expect(folded.passes).toEqual(plain.passes);
    expect(folded.warnings).toEqual(plain.warnings);
  });

  it("any order of arrival across sites within the lateness bound ends with the same warnings and the same joins", {
    timeout: 120_000,
  }, () => {
    const sites = [...railroad.sites.keys()];
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 55 }), { minLength: sites.length, maxLength: sites.length }), (minutes) => {
        const late = delayed(feed, (site) => (minutes[sites.indexOf(site)] ?? 0) * MINUTE_MS);
        const folded = fold(late, railroad, rules);
        expect(standing(folded.warnings)).toEqual(standing(plain.warnings));
        expect([...folded.joins].sort()).toEqual([...plain.joins].sort());
      }),
      { numRuns: 12, seed: 5 },
    );
  });

  it("what a late pass changes is a new version that says it is a correction", () => {
    const held = delayed(feed, (site) => (site === [...railroad.sites.keys()][2] ? 50 * MINUTE_MS : 0));
    const folded = fold(held, railroad, rules);
    const byId = new Map<string, Warning[]>();
    for (const warning of folded.warnings) byId.set(warning.id, [...(byId.get(warning.id) ?? []), warning]);
    for (const versions of byId.values()) {
      versions.forEach((warning, at) => {
        expect(warning.version).toBe(at + 1);
      });
    }
    expect(folded.warnings.filter((warning) => warning.state === "withdrawn").every((warning) => warning.correction)).toBe(true);
  });

  it("a reading at or over the limit is always a limit warning for that bearing at that site", () => {
    const said = new Set(
      plain.warnings
        .filter((warning) => warning.level === "limit")
        .flatMap((warning) => warning.evidence.map((one) => `${one.pass} ${one.axle}`)),
    );
    let reached = 0;
    for (const json of plain.passes) {
      const pass = JSON.parse(json) as {
        id: string;
        site: string;
        left: { bearing: (number | null)[] };
        right: { bearing: (number | null)[] };
      };
      for (const rail of [pass.left, pass.right]) {
        rail.bearing.forEach((riseF, row) => {
          if (riseF === null || riseF < 170) return;
          reached++;
          expect(said).toContain(`${pass.id} ${row + 1}`);
        });
      }
    }
    expect(reached).toBeGreaterThan(0);
  });

  it("the hot brakes of a vehicle are one thing to look at, not eight", () => {
    const brakes = plain.warnings.filter((warning) => warning.version === 1 && warning.heat === "brakes" && warning.level === "watch");
    const vehicles = brakes.map(({ corridor, journey, pass, vehicle }) => `${corridor} ${journey} ${pass} ${vehicle?.ordinal}`);
    expect(brakes.length).toBeGreaterThan(0);
    expect(new Set(vehicles).size).toBe(vehicles.length);
  });

  it("a bearing that is no longer seen is said to be so once, not at every site", () => {
    const unseen = new Map<string, number>();
    for (const { id, lastSeenMiles, correction } of plain.warnings) {
      if (lastSeenMiles > 0 && !correction) unseen.set(id, (unseen.get(id) ?? 0) + 1);
    }
    expect(unseen.size).toBeGreaterThan(0);
    expect(Math.max(...unseen.values())).toBeLessThanOrEqual(2);
  });

  it("converting units changes no decision", { timeout: 60_000 }, () => {
    const orderly = simulated({ seed: 12, hours: 7, world: "ordinary", trainsPerDay: 80 }, railroad).feed;
    const before = fold(orderly, railroad, rules);
    const after = fold(feedInOtherUnits(orderly, railroad), inOtherUnits(railroad), rules);
    expect(before.warnings.length).toBeGreaterThan(0);
    expect(after.warnings).toEqual(before.warnings);
    expect(after.joins).toEqual(before.joins);
  });

  it("a wrong unit declared for a site is noticed, and said with the likely one", () => {
    const { conditions } = fold(feed.slice(0, Math.floor(feed.length / 4)), inOtherUnits(railroad), rules);
    const doubted = conditions.map((json) => JSON.parse(json) as { kind: string; words: string }).filter(({ kind }) => kind === "units");
    expect(doubted.length).toBeGreaterThan(0);
    expect(doubted[0]?.words).toMatch(/°[FC]|inch|mm|mph/);
  });

  it("mirroring direction changes no decision", { timeout: 60_000 }, () => {
    const after = fold(mirroredFeed(feed), mirrored(railroad), rules);
    const decided = (warnings: readonly Warning[]) =>
      warnings.map(({ id, version, time, level, state, axle, side, place, heat, riseF, leveledF, chances, setOut, advice }) => ({
        ...{ id, version, time, level, state, axle, side, place, heat, riseF, leveledF, chances },
        setOut: setOut?.place ?? null,
        advice: advice.replace(/milepost [\d.]+/g, "milepost"),
      }));
    expect(decided(after.warnings)).toEqual(decided(plain.warnings));
    expect(after.joins).toEqual(plain.joins);
  });

  it("live equals replay: passes that went through the log as JSON lead to the same bytes", { timeout: 60_000 }, () => {
    const live = fold(feed, railroad, rules, (pass) => passOfRecord(JSON.parse(JSON.stringify(recordOfPass(pass)))));
    expect(live).toEqual(plain);
  });

  it("malformed records among good ones stop nothing and change nothing", () => {
    const bad = ['{"type":"axles"}', "{", "null", '{"type":"pass-begun","site":"nowhere","track":"1"}', "[]", '"x"'];
    const mixed = feed.flatMap((record, at) => (at % 2 === 0 ? [{ ...record, json: bad[at % bad.length] ?? "" }, record] : [record]));
    const folded = fold(mixed, railroad, rules);
    expect(folded.warnings).toEqual(plain.warnings);
    expect(folded.outcomes.rejected).toBe(plain.outcomes.rejected + Math.ceil(feed.length / 2));
  });
});
