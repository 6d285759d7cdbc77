import { describe, expect, it } from "vitest";
import type { Journey } from "../../src/journey/journey.ts";
import { axleOffRoster } from "../../src/warning/axle.ts";
import { type Content, compose, MAX_EVIDENCE } from "../../src/warning/compose.ts";
import { decide } from "../../src/warning/decide.ts";
import { warningId } from "../../src/warning/warning-id.ts";
import { journeyOf, look, outlook, passAt, RULES, reading, START_MS, straightRailroad } from "./samples.ts";

const RAILROAD = straightRailroad(80);
const MINUTE = 60_000;
const ROW = 6;

/** A train over so many sites whose bearing on row 6, left rail, gains 20 °F a site. */
function journeyOver(sites: number): Journey {
  return journeyOf(Array.from({ length: sites }, (_, s) => passAt(s, "Q1", START_MS + s * 15 * MINUTE, [[ROW, 0, 30 + 20 * s]])));
}

function composed(journey: Journey, rosterAxle: number, over: Parameters<typeof look>[0] = {}): Content {
  const legIndex = journey.legs.length - 1;
  const { pass } = journey.legs[legIndex]!;
  const track = journey.legs.map((leg) => reading(leg.miles, leg.pass.bearingRiseF[0][ROW]!));
  const sure = outlook({
    chanceNext: 0.6,
    rising: 0.7,
    slopeFPerMile: 2,
    crossing: { miles: 7.25, low: 6.5, high: 9.875 },
    used: track.map(() => "used"),
  });
  const ahead = RAILROAD.ahead(pass.site, "1", journey.legs[legIndex]!.direction, 2);
  const riseF = track.at(-1)!.riseF;
  const seen = look({
    timeMs: pass.endedMs,
    riseF,
    excessF: riseF - 25,
    track,
    readings: track.length,
    outlook: sure,
    ahead,
    beyondMiles: 0.01,
    ...over,
  });
  return compose({
    railroad: RAILROAD,
    corridor: "corridor",
    journey,
    legIndex,
    rosterAxle,
    side: 0,
    look: seen,
    decision: decide(seen, null, RULES),
    rules: RULES,
  });
}

describe("a composed warning", () => {
  it("tells both numbers of the limit between the two ends of an axle where that is the one reached, and nowhere else", () => {
    const hot = { riseF: 145.9, mateRiseF: 25, outlook: null };
    expect(composed(journeyOver(3), ROW, hot)).toMatchObject({ level: "limit", axleDifference: { overF: 120.9, limitF: 115 } });
    const overItsOwn = composed(journeyOver(3), ROW, { ...hot, riseF: 175 });
    for (const only of ["axleDifference", "critical"]) expect(overItsOwn).not.toHaveProperty(only);
    expect(composed(journeyOver(3), ROW, { ...hot, riseF: 283 })).toMatchObject({ level: "limit", critical: true });
  });

  it("says where the bearing is, where it is heading, and what the train's journey showed of it", () => {
    const content = composed(journeyOver(3), ROW);
    expect(content).toMatchObject({
      level: "warn",
      site: "s2",
      axle: 7,
      side: "left",
      vehicle: { kind: "car", ordinal: 2, axleInVehicle: 3, axlesInVehicle: 4, truck: 2, trucks: 2, axleInTruck: 1 },
      riseF: 70,
      leveledF: 45,
      slopeFPerMile: 2,
      slopeFPerMinute: 1.33,
      // 7.25 miles at 40 mph.
      crossing: { miles: 7.25, low: 6.5, high: 9.88, minutes: 10.9, milepost: 127.25, line: "main", chance: 0.7 },
      nextSite: { site: "s3", miles: 10 },
      setOut: { place: "siding-2", miles: 5, milepost: 125 },
      rules: RULES.id,
      caution: RULES.caution,
    });
    expect(content.evidence.map(({ site, riseF, miles, axle }) => [site, riseF, miles, axle])).toEqual([
      ["s0", 30, 0, 7],
      ["s1", 50, 10, 7],
      ["s2", 70, 20, 7],
    ]);
    expect(content.advice).toBe(
      "Stop train Q118 at siding-2 siding, 5 miles on. Inspect car 47 from the head, second axle of its rear truck, right side in the direction of travel (axle 187). Set the vehicle out if the bearing is defective. It could reach 170 °F in 7.3 miles (6.5 miles at the earliest).",
    );
  });

  it("of a pass that came hours late says so first, in words and in minutes; one in time says nothing of it", () => {
    const journey = journeyOver(3);
    expect(composed(journey, ROW)).not.toHaveProperty("lateMinutes");
    const leg = journey.legs[2]!;
    leg.pass = { ...leg.pass, lateMs: 80 * MINUTE + 59_000 };
    const content = composed(journey, ROW);
    expect(content.lateMinutes).toBe(80);
    expect(content.reasons[0]).toBe(
      "This is late: the pass was 1 hour 20 minutes old when it could be looked at, and the train has gone on since.",
    );
  });

  it("names axle and side as the train ran over that site: a run-around train shows the other end of itself", () => {
    const journey = journeyOver(2);
    const leg = journey.legs[1]!;
    leg.flipped = true;
    leg.direction = "falling";
    leg.rosterOfRow.reverse();
    // Reversed and running the other way: the same rail as before, the first axle is the last, left of travel is right.
    expect(composed(journey, 1)).toMatchObject({ axle: 7, side: "right", direction: "falling" });
  });

  it("keeps the place of the last pass that held the axle when this one missed it", () => {
    const journey = journeyOver(3);
    journey.legs[2]!.rosterOfRow[ROW] = -1;
    const content = composed(journey, ROW, { riseF: Number.NaN, excessF: Number.NaN, milesSinceSeen: 10 });
    expect(content).toMatchObject({
      site: "s1",
      axle: 7,
      riseF: null,
      lastSeenMiles: 10,
      time: new Date(START_MS + 30 * MINUTE).toISOString(),
    });
    expect(content.evidence.at(-1)).toMatchObject({ site: "s2", axle: null, riseF: null, used: "missing" });
  });

  it("of an axle on no roster has the one reading that there is", () => {
    const journey = journeyOver(3);
    journey.legs[2]!.rosterOfRow[ROW] = -1;
    const content = composed(journey, axleOffRoster(2, ROW), { riseF: 175, outlook: null });
    expect(content).toMatchObject({ level: "limit", site: "s2", axle: 7 });
    expect(content.evidence).toHaveLength(1);
  });

  it("holds no more evidence than can be read", () => {
    const { evidence } = composed(journeyOver(MAX_EVIDENCE + 5), ROW);
    expect(evidence).toHaveLength(MAX_EVIDENCE);
    expect(evidence.at(-1)!.site).toBe(`s${MAX_EVIDENCE + 4}`);
  });
});

describe("the id of a warning", () => {
  it("is of the pass, axle and side, and of nothing else", () => {
    expect(warningId("s0/1/Q1@20260203T040000000Z", 7, "left")).toMatch(/^W-[0-9a-f]{16}$/);
    const ids = [warningId("a", 7, "left"), warningId("a", 7, "right"), warningId("a", 8, "left"), warningId("b", 7, "left")];
    expect(new Set(ids).size).toBe(4);
    expect(warningId("a", 7, "left")).toBe(ids[0]);
  });
});
