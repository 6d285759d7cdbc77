import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { EventTime } from "../../src/flow/event-time.ts";

const said = fc.array(fc.tuple(fc.constantFrom("alder-14", "birch-29", "cedar-41"), fc.integer({ min: 0, max: 1_000_000 })), {
  maxLength: 60,
});

describe("event time", () => {
  it("is the latest time that a second site confirms", () => {
    fc.assert(
      fc.property(said, (heard) => {
        const time = new EventTime(() => 3);
        const latest = new Map<string, number>();
        for (const [site, ms] of heard) {
          time.hear(site, ms);
          latest.set(site, Math.max(latest.get(site) ?? Number.NEGATIVE_INFINITY, ms));
        }
        const descending = [...latest.values()].sort((a, b) => b - a);
        expect(time.confirmedMs).toBe(descending[1] ?? Number.NEGATIVE_INFINITY);
      }),
      { numRuns: 2_000 },
    );
  });

  it("never falls", () => {
    fc.assert(
      fc.property(said, (heard) => {
        const time = new EventTime(() => 3);
        let before = time.confirmedMs;
        for (const [site, ms] of heard) {
          time.hear(site, ms);
          expect(time.confirmedMs).toBeGreaterThanOrEqual(before);
          before = time.confirmedMs;
        }
      }),
    );
  });

  it("is not moved by one site whose clock is a year ahead", () => {
    const time = new EventTime(() => 3);
    time.hear("alder-14", 1_000);
    time.hear("birch-29", 2_000);
    time.hear("cedar-41", 2_000 + 365 * 86_400_000);
    expect(time.confirmedMs).toBe(2_000);
  });

  it("takes the word of the only site until the time at which there is a second one, and never falls", () => {
    const time = new EventTime((ms) => (ms < 4_000 ? 1 : 2));
    time.hear("alder-14", 3_000);
    expect(time.confirmedMs).toBe(3_000);
    time.hear("alder-14", 5_000);
    time.hear("alder-14", 365 * 86_400_000);
    expect(time.confirmedMs).toBe(5_000);
    time.hear("birch-29", 6_000);
    expect(time.confirmedMs).toBe(6_000);
  });

  it("takes the word of a railroad's only site, and of no clock that is not a number", () => {
    const time = new EventTime(() => 1);
    time.hear("alder-14", 5_000);
    time.hear("alder-14", Number.NaN);
    expect(time.confirmedMs).toBe(5_000);
  });
});
