import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { outlook } from "../../src/bearing/outlook.ts";
import type { BearingTrack, Outlook } from "../../src/bearing/track.ts";
import { readingOf } from "./curves.ts";

const AHEAD = [
  { site: "next", miles: 15 },
  { site: "next but one", miles: 30 },
];
const LIMIT_OVER_SIDE_F = 140;

/** Readings every 15 miles at 45 mph in a train of median 30, spread 7. NaN: not measured. */
function trackOfExcess(excessF: number[], gapMiles = 15): BearingTrack {
  return excessF.map((value, i) => readingOf(i * gapMiles, 45, value, 30, 7));
}

function look(excessF: number[]): Outlook {
  return outlook(trackOfExcess(excessF), LIMIT_OVER_SIDE_F, AHEAD);
}

const reading = fc.record({
  miles: fc.double({ min: 3, max: 45, noNaN: true }),
  excessF: fc.double({ min: -60, max: 300, noNaN: true }),
  spreadF: fc.double({ min: 2.5, max: 20, noNaN: true }),
  measured: fc.boolean(),
  doubted: fc.boolean(),
});

function trackFrom(steps: { miles: number; excessF: number; spreadF: number; measured: boolean; doubted: boolean }[]): BearingTrack {
  let miles = 0;
  return steps.map((step) => {
    miles += step.miles;
    const excessF = step.measured ? step.excessF : Number.NaN;
    return { ...readingOf(miles, 45, excessF, 30, step.spreadF), doubted: step.doubted };
  });
}

describe("whatever the readings, the outlook holds together", () => {
  const tracks = fc.array(reading, { maxLength: 40 });
  const limits = fc.double({ min: -50, max: 200, noNaN: true });

  test("the hypotheses add up to one, every figure is finite, every reading is accounted for", () => {
    fc.assert(
      fc.property(tracks, limits, (steps, limit) => {
        const track = trackFrom(steps);
        const seen = outlook(track, limit, AHEAD);
        expect(seen.healthy + seen.steady + seen.wandering + seen.rising).toBeCloseTo(1, 9);
        for (const value of [seen.excessF, seen.excessSdF, seen.slopeFPerMile, seen.slopeSdFPerMile])
          expect(Number.isFinite(value)).toBe(true);
        expect(seen.chanceNext).toBeGreaterThanOrEqual(0);
        expect(seen.chanceNextButOne).toBeLessThanOrEqual(1);
        expect(seen.chanceNextButOne).toBeGreaterThanOrEqual(seen.chanceNext - 1e-9);
        expect(seen.used).toHaveLength(track.length);
        track.forEach((one, i) => {
          expect(seen.used[i] === "missing").toBe(Number.isNaN(one.excessF) || i < track.length - 24);
        });
        if (seen.crossing !== null) {
          expect(seen.crossing.low).toBeLessThanOrEqual(seen.crossing.miles);
          expect(seen.crossing.miles).toBeLessThanOrEqual(seen.crossing.high);
        }
      }),
      { seed: 6, numRuns: 1500 },
    );
  });

  test("the same track gives the same outlook, whatever was looked at in between", () => {
    fc.assert(
      fc.property(tracks, tracks, (first, second) => {
        const track = trackFrom(first);
        const before = outlook(track, 140, AHEAD);
        outlook(trackFrom(second), 120, AHEAD);
        expect(outlook(track, 140, AHEAD)).toEqual(before);
      }),
      { seed: 7, numRuns: 300 },
    );
  });

  test("a nearer limit is never less likely to be reached", () => {
    fc.assert(
      fc.property(fc.array(fc.double({ min: -10, max: 110, noNaN: true }), { minLength: 1, maxLength: 8 }), (excessF) => {
        const chances = [160, 130, 100].map((limit) => outlook(trackOfExcess(excessF), limit, AHEAD).chanceNextButOne);
        // The prior of the rate moves with the limit a little, so that the order holds to within that.
        expect(chances[1]!).toBeGreaterThanOrEqual(chances[0]! - 0.05);
        expect(chances[2]!).toBeGreaterThanOrEqual(chances[1]! - 0.05);
      }),
      { seed: 8, numRuns: 300 },
    );
  });

  test("no reading at all says nothing: healthy, no crossing", () => {
    const seen = outlook([], LIMIT_OVER_SIDE_F, AHEAD);
    expect(seen.healthy).toBeGreaterThan(0.9);
    expect(seen.crossing).toBeNull();
    expect(outlook([], LIMIT_OVER_SIDE_F, []).chanceNext).toBeLessThan(0.01);
  });
});

describe("the four hypotheses, on curves anyone would tell apart", () => {
  test("an ordinary bearing is healthy", () => {
    expect(look([2, -5, 4, 8, -3]).healthy).toBeGreaterThan(0.95);
  });

  test("one that ran warm all day runs warm: no warning in it, however long", () => {
    for (const level of [35, 60, 80]) {
      const seen = look([level, level + 4, level - 3, level + 1, level - 2, level + 3]);
      expect(seen.steady).toBeGreaterThan(0.9);
      expect(seen.chanceNextButOne).toBeLessThan(0.05);
    }
  });

  test("one that climbs site by site is rising, and its crossing lies ahead", () => {
    const seen = look([1, 4, 22, 41, 63, 88]);
    expect(seen.rising).toBeGreaterThan(0.5);
    expect(seen.slopeFPerMile).toBeGreaterThan(1);
    expect(seen.chanceNextButOne).toBeGreaterThan(0.15);
    expect(seen.crossing!.miles).toBeGreaterThan(10);
    expect(seen.crossing!.miles).toBeLessThan(80);
  });

  test("one that went up and came back wanders", () => {
    const seen = look([2, 40, 72, 45, 20, 5]);
    expect(seen.wandering).toBeGreaterThan(0.9);
    expect(seen.chanceNextButOne).toBeLessThan(0.02);
  });

  test("a single first reading of 100 is undecided: warm all day, or on its way", () => {
    const seen = look([70]);
    expect(seen.rising + seen.wandering).toBeGreaterThan(0.03);
    expect(seen.rising).toBeLessThan(0.7);
    expect(seen.chanceNext).toBeLessThan(0.3);
  });
});

describe("a rise that bends", () => {
  test("is told by its last readings, not by a curve from its onset: a stall lowers the chance, going on raises it again", () => {
    const climbing = look([1, 20, 40, 60, 80, 100]);
    const stalled = look([1, 20, 40, 60, 61, 60]);
    const goingOn = look([1, 20, 40, 60, 61, 60, 85, 112]);
    expect(stalled.chanceNextButOne).toBeLessThan(0.3 * climbing.chanceNextButOne);
    expect(goingOn.chanceNextButOne).toBeGreaterThan(3 * stalled.chanceNextButOne);
    expect(goingOn.slopeFPerMile).toBeGreaterThan(1);
  });

  test("is as hot as it was read, also when it has gone on for a long way", () => {
    const slow = look([0, 2, 5, 10, 16, 22, 30, 38, 47, 57, 68, 90, 116]);
    expect(Math.abs(slow.excessF - 116)).toBeLessThan(10);
    expect(slow.onItsWay!.next).toBeGreaterThan(0.3);
  });
});

describe("the part of the chances that a rise has", () => {
  test("never exceeds the chance that there is a rise", () => {
    fc.assert(
      fc.property(fc.array(reading, { minLength: 1, maxLength: 20 }), fc.double({ min: 20, max: 200, noNaN: true }), (steps, limit) => {
        const { rising, onItsWay } = outlook(trackFrom(steps), limit, [...AHEAD, { site: "", miles: 120 }]);
        for (const part of Object.values(onItsWay!)) {
          expect(part).toBeGreaterThanOrEqual(0);
          expect(part).toBeLessThanOrEqual(rising + 1e-9);
        }
      }),
      { seed: 9, numRuns: 500 },
    );
  });

  test("is next to nothing for a bearing that has run warm near its limit all day", () => {
    const seen = look([118, 121, 119, 122, 117, 120, 119]);
    expect(seen.steady).toBeGreaterThan(0.9);
    expect(seen.onItsWay!.nextButOne).toBeLessThan(0.05);
  });
});

describe("how warm the train runs", () => {
  // A warm runner in a train that warms up: its excess and the spread of all others grow alike.
  const warmth = [0.45, 0.65, 0.8, 0.9, 0.97, 1];
  const scannerNoiseF = 3.5;
  const spreadOf = (share: number) => Math.hypot(scannerNoiseF, 6 * share);

  test("is read off the spread of its side, whatever a scanner's bias or the speed does to the median", () => {
    const medians = [12, 30, 18, 40, 22, 33];
    const track = warmth.map((share, i) => readingOf(i * 12, 45, 105 * share, medians[i]!, spreadOf(share)));
    const seen = outlook(track, LIMIT_OVER_SIDE_F, AHEAD);
    expect(seen.steady).toBeGreaterThan(0.7);
    expect(seen.onItsWay!.nextButOne).toBeLessThan(0.1);
  });

  test("a bearing whose heat grows while the train's does not is on its way", () => {
    const track = warmth.map((share, i) => readingOf(i * 12, 45, 105 * share, 30, spreadOf(1)));
    expect(outlook(track, LIMIT_OVER_SIDE_F, AHEAD).steady).toBeLessThan(0.2);
  });
});

describe("one low reading does not cancel", () => {
  test("a rising bearing under-read once is still rising", () => {
    const whole = look([2, 24, 48, 72, 96]);
    const missed = look([2, 24, 48, 8, 96]);
    expect(missed.rising).toBeGreaterThan(0.6 * whole.rising);
    expect(missed.used[3]).toBe("low-outlier");
  });

  test("a warm runner under-read first is no bearing that shot up", () => {
    const seen = look([0, 62, 60, 63]);
    expect(seen.chanceNextButOne).toBeLessThan(0.1);
    expect(seen.used[0]).toBe("low-outlier");
  });

  test("a doubted scanner moves the outlook less than a sound one", () => {
    const track = trackOfExcess([2, 3, 45]);
    const sound = outlook(track, LIMIT_OVER_SIDE_F, AHEAD);
    track[2] = { ...track[2]!, doubted: true };
    const doubted = outlook(track, LIMIT_OVER_SIDE_F, AHEAD);
    expect(doubted.rising + doubted.wandering).toBeLessThan(sound.rising + sound.wandering);
    expect(doubted.used[2]).toBe("doubted");
  });

  test("a bearing not seen at the last site keeps what is known of it", () => {
    const seen = look([2, 24, 48, 75, Number.NaN]);
    expect(seen.rising).toBeGreaterThan(0.3);
    expect(seen.excessF).toBeGreaterThan(70);
    expect(seen.used[4]).toBe("missing");
  });
});

describe("heat that is shared is not the bearing's", () => {
  const rise = [2, 20, 45, 75];

  test("both ends of the axle as hot as each other: brakes, and hardly a chance of a failing bearing", () => {
    const alone = outlook(trackOfExcess(rise), LIMIT_OVER_SIDE_F, AHEAD);
    const braked = trackOfExcess(rise).map((one) => ({ ...one, mateExcessF: one.excessF }));
    expect(outlook(braked, LIMIT_OVER_SIDE_F, AHEAD).chanceNextButOne).toBeLessThan(0.2 * alone.chanceNextButOne);
  });

  test("a train still warming up makes no failing bearing of a warm runner", () => {
    const cold = [0.3, 0.6, 0.85, 1].map((warmth, i) => readingOf(i * 12, 45, 60 * warmth, 34 * warmth, 7 * warmth));
    const warm = [0.3, 0.6, 0.85, 1].map((share, i) => readingOf(i * 12, 45, 60 * share, 34, 7));
    const warming = outlook(cold, LIMIT_OVER_SIDE_F, AHEAD);
    expect(warming.rising).toBeLessThan(0.5 * outlook(warm, LIMIT_OVER_SIDE_F, AHEAD).rising);
  });
});
