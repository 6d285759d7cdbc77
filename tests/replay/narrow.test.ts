import { describe, expect, test } from "vitest";
import { DayAccount } from "../../src/replay/account.ts";
import { EVERYTHING, type NarrowMistake, narrow } from "../../src/replay/narrow.ts";
import { summaryOf } from "../../src/replay/summary.ts";
import { summaryText } from "../../src/replay/summary-text.ts";
import { journeyOf, MIDNIGHT, mainWay, passAt, replayJourney, sampleDay, sampleRailroad, warningAt } from "./sample.ts";

const railroad = sampleRailroad();
const sites = new Set(railroad.sites.keys());
const HOUR = 3_600_000;

function codeOf(options: Parameters<typeof narrow>[0]): string | null {
  try {
    narrow(options, sites);
    return null;
  } catch (error) {
    return (error as NarrowMistake).code;
  }
}

describe("narrowing what is reported", () => {
  test("nothing asked narrows nothing", () => {
    expect(narrow({}, sites)).toBe(EVERYTHING);
    expect(narrow({ train: [], site: [] }, sites)).toBe(EVERYTHING);
  });

  test("from is included, to is not", () => {
    const keep = narrow({ from: "2026-03-04T06:00Z", to: "2026-03-04T07:00Z" }, sites);
    const at = (ms: number) => keep.pass(passAt("alder-14", "1", 1, ms), null, null);
    expect([at(MIDNIGHT - 1), at(MIDNIGHT), at(MIDNIGHT + HOUR - 1), at(MIDNIGHT + HOUR)]).toEqual([false, true, true, false]);
    expect(keep.words).toBe("from 2026-03-04T06:00Z, before 2026-03-04T07:00Z");
  });

  test("a train is found by its id, also where only its journey knows it, or by its journey", () => {
    const pass = passAt("alder-14", "1", 1, MIDNIGHT);
    const keep = narrow({ train: ["Q118"] }, sites);
    expect([keep.pass({ ...pass, train: "Q118" }, null, null), keep.pass(pass, "Q118", null), keep.pass(pass, "Q119", null)]).toEqual([
      true,
      true,
      false,
    ]);
    expect(narrow({ train: ["J-1"] }, sites).pass(pass, null, "J-1")).toBe(true);
  });

  test("a warning is a site's when the bearing was warned of there or read there", () => {
    const journey = journeyOf({ train: "T", sites: mainWay(3), direction: "rising", startMs: MIDNIGHT, rises: [30, 90, 120] }, 1);
    const warning = warningAt(journey, 1, "warn");
    const at = (site: string) => narrow({ site: [site] }, sites).warning(warning);
    expect([at("alder-14"), at("brock-27"), at("coldrill-44")]).toEqual([true, true, false]);
  });

  test("a warn before the time asked for still explains the limit within it", () => {
    const journey = journeyOf({ train: "T", sites: mainWay(5), direction: "rising", startMs: MIDNIGHT, rises: [30, 90, 120, 150, 180] }, 1);
    const from = new Date((journey.legs[4]?.pass.endedMs ?? 0) - 1).toISOString();
    const account = new DayAccount(railroad, narrow({ from }, sites));
    replayJourney(account, journey, [warningAt(journey, 1, "warn"), warningAt(journey, 4, "limit", { version: 2 })]);
    const [story] = account.close().warnings;
    expect(story?.warn?.site).toBe("brock-27");
  });

  test("what is narrowed is the report, never the accounts of what was read and folded", () => {
    const whole = sampleDay().account.close();
    const part = sampleDay(narrow({ train: ["Q118"] }, sites)).account.close();
    expect(part.records).toEqual(whole.records);
    expect(part.passes).toEqual(whole.passes);
    expect(part.joins).toEqual(whole.joins);
    expect(new Set(part.trains.map(({ train }) => train))).toEqual(new Set(["Q118"]));
    expect(part.warnings.map((story) => story.last.id)).toEqual(["W-Q118"]);
    expect(part.warnings[0]).toEqual(whole.warnings.find((story) => story.last.id === "W-Q118"));
  });

  test("a condition stands from being raised until it is cleared", () => {
    const { conditions } = sampleDay(narrow({ from: "2026-03-04T23:00Z" }, sites)).account.close();
    expect(conditions.map(({ kind }) => kind)).toEqual(["drift"]);
  });

  test("what cannot be understood is refused with a code and with what was expected", () => {
    expect(codeOf({ from: "yesterday" })).toBe("NARROW-001");
    expect(codeOf({ to: "2026-03-04T06:00:00+01:00" })).toBe("NARROW-001");
    expect(codeOf({ from: "2026-13-40" })).toBe("NARROW-001");
    expect(codeOf({ from: "2026-03-05", to: "2026-03-04" })).toBe("NARROW-002");
    expect(codeOf({ site: ["alder-41"] })).toBe("NARROW-003");
    expect(codeOf({ from: "2026-03-04", to: "2026-03-05T00:00:00.500Z", site: ["alder-14"] })).toBeNull();
  });

  test("a name that nothing is of is not told as a train without a warning", () => {
    const of = (train: string) => summaryOf(sampleDay(narrow({ train: [train] }, sites)).account.close());
    expect(of("Q118").reported).toMatchObject({ trains: expect.any(Number), conditions: 0 });
    expect(of("Q118").reported.trains).toBeGreaterThan(0);
    expect(summaryText(of("Q118"))).not.toContain("NOTHING");
    expect(of("Q11B").reported).toEqual({ trains: 0, warnings: 0, conditions: 0 });
    expect(summaryText(of("Q11B"))).toMatch(/NOTHING {5}no pass and no warning .* what was asked for/);
    expect(summaryText(summaryOf(new DayAccount(railroad).close()))).not.toContain("NOTHING");
  });
});
