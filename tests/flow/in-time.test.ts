import { describe, expect, it } from "vitest";
import { AHEAD_OF_ARRIVAL_MS, BEHIND_ARRIVAL_MS, CLOCK_AHEAD_MS, inTime } from "../../src/flow/in-time.ts";
import type { Pass } from "../../src/pass/pass.ts";
import { passOfRecord, recordOfPass } from "../../src/pass/pass-record.ts";
import { demoRailroad, demoRules, fold, simulated } from "./folded.ts";

const railroad = demoRailroad();
const { feed } = simulated({ seed: 3, hours: 2, world: "ordinary", trainsPerDay: 60 }, railroad);
const pass: Pass = passOfRecord(JSON.parse(fold(feed, railroad, demoRules()).passes[0]!));
const tookMs = pass.endedMs - pass.begunMs;
const HOUR_MS = 3_600_000;

/** The same pass by a clock that is so far ahead. */
function off(ms: number): Pass {
  return { ...pass, begunMs: pass.begunMs + ms, endedMs: pass.endedMs + ms };
}

/** It came as it happened. */
const live = { firstMs: pass.begunMs, lastMs: pass.endedMs };

describe("a pass in time", () => {
  it("stays where its site puts it while that can be", () => {
    for (const ms of [0, AHEAD_OF_ARRIVAL_MS - 1, -BEHIND_ARRIVAL_MS + 1]) expect(inTime(off(ms), live, Number.NaN)).toEqual(off(ms));
  });

  it("is placed by its arrival when the clock is an hour or a year ahead, and says by how much", () => {
    for (const ms of [HOUR_MS, 365 * 24 * HOUR_MS]) {
      const placed = inTime(off(ms), live, Number.NaN);
      expect([placed.begunMs, placed.endedMs]).toEqual([pass.begunMs, pass.endedMs]);
      expect(placed.flags).toContain("clock-doubted");
      expect(placed.clockAheadMs).toBe(ms);
    }
  });

  it("is placed by its arrival when it came live from a clock that is an hour or a year behind", () => {
    for (const ms of [-HOUR_MS, -365 * 24 * HOUR_MS]) expect(inTime(off(ms), live, Number.NaN).endedMs).toBe(pass.endedMs);
  });

  it("is left alone when it was kept at the site and sent in one go later: then it is late, and its clock is right", () => {
    const sent = { firstMs: pass.endedMs + HOUR_MS, lastMs: pass.endedMs + HOUR_MS + tookMs / 10 };
    expect(inTime(pass, sent, Number.NaN)).toEqual(pass);
  });

  it("where nobody knows when it came, is placed by the other sites when it is hours ahead of all of them", () => {
    expect(inTime(off(CLOCK_AHEAD_MS - 1), null, pass.endedMs)).toEqual(off(CLOCK_AHEAD_MS - 1));
    expect(inTime(off(CLOCK_AHEAD_MS + 1), null, pass.endedMs).endedMs).toBe(pass.endedMs);
    expect(inTime(off(CLOCK_AHEAD_MS + 1), null, Number.NEGATIVE_INFINITY)).toEqual(off(CLOCK_AHEAD_MS + 1));
  });

  it("keeps what is said of its clock on the way through the log", () => {
    const placed = inTime(off(HOUR_MS), live, Number.NaN);
    expect(passOfRecord(JSON.parse(JSON.stringify(recordOfPass(placed)))).clockAheadMs).toBe(HOUR_MS);
  });
});
