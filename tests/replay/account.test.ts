import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { DayAccount } from "../../src/replay/account.ts";
import { DAY_LIMITS, limitWithoutWarn } from "../../src/replay/day.ts";
import { accounted, leadMiles } from "../../src/replay/summary.ts";
import { journeyOf, legOf, MIDNIGHT, mainWay, passAt, type Rises, replayJourney, sampleDay, sampleRailroad, warningAt } from "./sample.ts";

const railroad = sampleRailroad();

function account(): DayAccount {
  return new DayAccount(railroad);
}

function trainWith(rises: Rises) {
  return journeyOf({ train: "Q1", sites: mainWay(rises.length), direction: "rising", startMs: MIDNIGHT, rises }, 1);
}

describe("a day's account", () => {
  test("every record is used, late, repeated or rejected, and the counts add up to the records read", () => {
    const outcome = fc.constantFrom("used", "late", "repeated", "rejected");
    const topic = fc.constantFrom("axle-readings", "site-reports", "consists", "desk-actions", "no such topic");
    fc.assert(
      fc.property(fc.array(fc.tuple(topic, outcome), { maxLength: 60 }), (records) => {
        const day = account();
        for (const [of, what] of records) {
          day.addRead(1);
          if (what === "rejected") day.addRejected(refusal(of, "FEED-001"));
          else day.addOutcome(of, what as "used");
        }
        const closed = day.close();
        expect(accounted(closed)).toBe(true);
        expect(closed.rejected.reduce((sum, { count }) => sum + count, 0)).toBe(closed.records.outcomes.rejected);
      }),
      { seed: 1 },
    );
  });

  test("a record that was lost on the way is noticed", () => {
    const day = account();
    day.addRead(2);
    day.addOutcome("axle-readings", "used");
    expect(accounted(day.close())).toBe(false);
  });

  test("a pass placed again after a late one is counted once, as it was placed last", () => {
    const day = account();
    const journey = trainWith([30, 30]);
    replayJourney(day, journey);
    const [, second] = journey.legs;
    day.addDoubt({ pass: second?.pass.id ?? "", kind: "ambiguous", candidates: [], words: "two trains" });
    day.addJoin(journey, { ...legOf(second?.pass ?? passAt("brock-27", "1", 1, MIDNIGHT), 12.8, "x"), directionDoubted: true });
    const { joins, doubts, passes } = day.close();
    expect(joins).toMatchObject({ placed: 2, made: 1, directionDoubted: 1, doubts: {} });
    expect(doubts).toEqual([]);
    expect(passes.count).toBe(2);
  });

  test("a pass at the border of two corridors is placed in both, drawn in both and counted by the one that owns its site", () => {
    const day = account();
    const pass = passAt("hollin-178", "1", 1, MIDNIGHT);
    const inAlder = { id: "J-a", train: "Q1", rosterAxles: 8, legs: [legOf(pass, 100, "before")] };
    const inKestrel = { id: "J-k", train: "Q1", rosterAxles: 8, legs: [legOf(pass, 0, null)] };
    day.addPass(pass);
    for (const [journey, corridor] of [
      [inAlder, "alder"],
      [inKestrel, "kestrel"],
    ] as const) {
      day.addJoin(journey, journey.legs[0] as never, corridor);
      day.addDoubt({ pass: pass.id, kind: "weak", candidates: [], words: corridor }, corridor);
    }
    const { joins, doubts, trains } = day.close();
    expect(joins).toMatchObject({ placed: 1, made: 1, doubts: { weak: 1 } });
    expect(doubts.map(({ words }) => words)).toEqual(["alder"]);
    expect(trains.map(({ corridor, journey }) => [corridor, journey])).toEqual([
      ["alder", "J-a"],
      ["kestrel", "J-k"],
    ]);
  });

  test("a day ten times as long takes no more room, and says what it left out", () => {
    const day = account();
    const over = 500;
    for (let i = 0; i < DAY_LIMITS.passPoints + over; i++) day.addPass(passAt("alder-14", "1", i, MIDNIGHT + i * 1000, { axles: 0 }));
    for (let i = 0; i < DAY_LIMITS.conditions + over; i++) {
      day.addCondition({
        id: `c${i}`,
        version: 1,
        time: "2026-03-04T06:00:00Z",
        site: "alder-14",
        device: "",
        kind: "dead",
        state: "raised",
        raisedAt: "2026-03-04T06:00:00Z",
        evidence: [],
        words: "",
        advice: "",
      });
    }
    for (let i = 0; i < 1_000; i++) day.addRejected(refusal("axle-readings", `reason ${i}`));
    const closed = day.close();
    expect(closed.passes.count).toBe(DAY_LIMITS.passPoints + over);
    expect(closed.trains.length).toBe(DAY_LIMITS.passPoints);
    expect(closed.overflow).toMatchObject({ passPoints: over, conditions: over });
    expect(closed.rejected.length).toBeLessThanOrEqual(DAY_LIMITS.reasons + 1);
  });

  test("when there are too many warnings, watches make room for a limit", () => {
    const day = account();
    const journey = trainWith([30, 200]);
    for (let i = 0; i < DAY_LIMITS.warnings; i++) day.addWarning(warningAt(journey, 0, "watch", { id: `w${i}` }));
    day.addWarning(warningAt(journey, 1, "limit", { id: "hot" }));
    const { warnings, overflow } = day.close();
    expect(warnings.length).toBe(DAY_LIMITS.warnings);
    expect(warnings.some((story) => story.last.id === "hot")).toBe(true);
    expect(overflow.warnings).toBe(1);
  });

  test("the same day gives the same account", () => {
    expect(sampleDay().account.close()).toEqual(sampleDay().account.close());
  });

  test("trains are lines of passes in order of time", () => {
    for (const { points } of sampleDay().account.close().trains) {
      for (let i = 1; i < points.length; i++) expect(points[i]?.timeMs).toBeGreaterThanOrEqual(points[i - 1]?.timeMs ?? 0);
    }
  });
});

describe("how a warning ended", () => {
  test("a warn, then the limit three sites on: it had an earlier warn, and how many miles earlier", () => {
    const day = account();
    const journey = trainWith([38, 90, 120, 150, 180]);
    replayJourney(day, journey, [warningAt(journey, 1, "warn"), warningAt(journey, 4, "limit", { version: 2 })]);
    const closed = day.close();
    expect(closed.warnings[0]?.ending).toBe("limit");
    expect(limitWithoutWarn(closed)).toEqual([]);
    expect(leadMiles(closed.warnings[0] as never)).toBe(45.4);
  });

  test("a limit reading out of nothing, or after no more than a watch, had no earlier warn", () => {
    const day = account();
    const journey = trainWith([38, 60, 180]);
    replayJourney(day, journey, [warningAt(journey, 2, "limit", { id: "a" })]);
    replayJourney(day, journey, [warningAt(journey, 1, "watch", { id: "b" }), warningAt(journey, 2, "limit", { id: "b" })]);
    const closed = day.close();
    expect(limitWithoutWarn(closed).map((story) => story.last.id)).toEqual(["a", "b"]);
  });

  test("a warn and then lower readings came to nothing, although no new version said so", () => {
    const day = account();
    const journey = trainWith([38, 90, 120, 80, null, 70]);
    replayJourney(day, journey, [warningAt(journey, 2, "warn")]);
    const [story] = day.close().warnings;
    expect(story?.ending).toBe("came-to-nothing");
    expect(story?.later.map((reading) => reading.riseF)).toEqual([80, null, 70]);
  });

  test("a warned bearing is followed to its own end of the axle on a train that comes back the other way", () => {
    const day = account();
    const journey = trainWith([38, 90, 120]);
    const [, , last] = journey.legs;
    const back = passAt("brock-27", "2", 9, (last?.pass.endedMs ?? 0) + 3_600_000, { direction: "falling" });
    // Reversed as a whole: the last axle leads, so axle 5 of 8 is now the fourth, and its right end is on the left.
    back.bearingRiseF[1][3] = 77;
    const rosterOfRow = Int32Array.from({ length: 8 }, (_, row) => 7 - row);
    journey.legs.push(legOf(back, 60, last?.pass.id ?? null, { flipped: true, rosterOfRow }));
    replayJourney(day, journey, [warningAt(journey, 2, "warn")]);
    expect(day.close().warnings[0]?.later.map((reading) => reading.riseF)).toEqual([77]);
  });

  test("a warn on the last site of a train, or a car set out, was not measured again", () => {
    const day = account();
    const end = trainWith([38, 90, 120]);
    replayJourney(day, end, [warningAt(end, 2, "warn", { id: "end" })]);
    const out = trainWith([38, 90, 120, null, null]);
    replayJourney(day, out, [warningAt(out, 2, "warn", { id: "out" })]);
    expect(day.close().warnings.map((story) => story.ending)).toEqual(["not-seen-again", "not-seen-again"]);
  });

  test("brakes are information, and a watch stays a watch", () => {
    const day = account();
    const journey = trainWith([38, 90]);
    day.addWarning(warningAt(journey, 1, "watch", { id: "a", heat: "brakes" }));
    day.addWarning(warningAt(journey, 1, "watch", { id: "b" }));
    expect(day.close().warnings.map((story) => story.ending)).toEqual(["information", "watch"]);
  });

  test("a warn said under an id that a late pass replaced was said nevertheless", () => {
    const day = account();
    const journey = trainWith([38, 90, 180]);
    day.addWarning(warningAt(journey, 1, "warn", { id: "old" }));
    day.addWarning(warningAt(journey, 1, "warn", { id: "old", state: "withdrawn", correction: true, supersededBy: "new" }));
    day.addWarning(warningAt(journey, 2, "limit", { id: "new", correction: true }));
    const closed = day.close();
    expect(limitWithoutWarn(closed)).toEqual([]);
    expect(closed.warnings.find((story) => story.last.id === "old")?.ending).toBe("withdrawn");
  });

  test("a bearing warned of in one corridor and at the limit in the next is one story, with the miles of the whole way", () => {
    const day = account();
    const whole = journeyOf(
      { train: "Q1", sites: mainWay(10), direction: "rising", startMs: MIDNIGHT, rises: [30, 30, 30, 30, 60, 90, 110, 130, 175, 190] },
      1,
    );
    // The next corridor's journey begins at its lead-in site, Garrow: its miles and its numbers are its own.
    const legs = whole.legs.slice(6).map((leg) => ({ ...leg, miles: leg.miles - 105.8 }));
    const next = { ...whole, id: "J-next", legs };
    replayJourney(day, { ...whole, legs: whole.legs.slice(0, 9) }, [warningAt(whole, 5, "warn", { id: "a" })]);
    replayJourney(day, next, [
      warningAt(next, 2, "limit", { id: "k", corridor: "kestrel", journey: "J-next" }),
      warningAt(next, 3, "limit", { id: "k", corridor: "kestrel", journey: "J-next", version: 2 }),
    ]);
    const closed = day.close();
    expect(closed.warnings.length).toBe(1);
    const [story] = closed.warnings;
    expect(story).toMatchObject({ ending: "limit", also: ["a"] });
    expect(story?.last.id).toBe("k");
    expect(limitWithoutWarn(closed)).toEqual([]);
    expect(story?.last.evidence.map(({ miles }) => miles)).toEqual(whole.legs.map(({ miles }) => miles));
    expect(leadMiles(story as never)).toBe(71.1);
  });

  test("a level reached at a site that did not see the axle stands at that site", () => {
    const day = account();
    const journey = trainWith([38, 90, null]);
    day.addWarning(warningAt(journey, 2, "warn"));
    const warn = day.close().warnings[0]?.warn;
    expect(warn?.site).toBe("coldrill-44");
    expect(warn?.seen.pass).toBe(journey.legs[1]?.pass.id);
  });
});

function refusal(topic: string, reason: string) {
  return { id: "r", version: 1 as const, topic, partition: 0, offset: 1, reason, path: "", expected: "", advice: "", raw: "x" };
}
