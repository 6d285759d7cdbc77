import { describe, expect, it } from "vitest";
import { LATE_MS, withLateness } from "../../src/flow/lateness.ts";
import type { Pass } from "../../src/pass/pass.ts";
import { recordOfPass } from "../../src/pass/pass-record.ts";
import { demoRailroad, fold, simulated } from "./folded.ts";

/** Only the end of it counts here. */
const pass = (endedMs: number) => ({ endedMs }) as Pass;

describe("lateness", () => {
  it("begins where a train is about as far on as sites lie apart: 47 mph for a quarter of an hour are 11.75 miles", () => {
    // Published averages of spacing [S]: 13.9 and 14.9 miles; speed of the published sequence RRD23MR005 [S]: about 47 mph.
    const miles = (47 * LATE_MS) / 3_600_000;
    expect(miles).toBeCloseTo(11.75, 6);
    expect(miles).toBeLessThan(13.9);
  });

  it("is said of a pass past that, by when the log took it, and of no other", () => {
    expect(withLateness(pass(1_000), 1_000 + LATE_MS)).not.toHaveProperty("lateMs");
    expect(withLateness(pass(1_000), 1_001 + LATE_MS).lateMs).toBe(LATE_MS + 1);
    // A clock that is ahead is not late, and nobody knows when a line of a plain feed file came.
    expect(withLateness(pass(1_000), 0)).not.toHaveProperty("lateMs");
    expect(withLateness(pass(1_000), Number.NaN)).not.toHaveProperty("lateMs");
  });

  it("is nothing of the pass itself: its record is the same", () => {
    const railroad = demoRailroad();
    const { feed } = simulated({ seed: 3, hours: 2, world: "ordinary", trainsPerDay: 60 }, railroad);
    const late: string[] = [];
    fold(feed, railroad, undefined, (one) => {
      const marked = withLateness(one, one.endedMs + 2 * LATE_MS);
      late.push(JSON.stringify(recordOfPass(marked)));
      return marked;
    });
    expect(late.length).toBeGreaterThan(3);
    expect(late).toEqual(fold(feed, railroad).passes);
  });
});
