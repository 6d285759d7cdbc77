import { describe, expect, it } from "vitest";
import { type PublishedPass, publishedLine, publishedTrain, saidAfterEach } from "./published-train.ts";

/**
 * NTSB investigation RRD23MR005, preliminary report of 23 Feb 2023; readings [S], rules of the time [S]: one bearing of the
 * 23rd car of a train of 149 cars, about 47 mph, ambient 10 °F, mileposts falling in the direction of travel.
 */
const MPH = 47;
const SITES = [
  { id: "first", milepost: 79.9 },
  { id: "second", milepost: 69.01 },
  { id: "third", milepost: 49.81 },
];
const RISE_F = [38, 103, 253];
/** Rules of the time [S]: from 170 stop and inspect; same-axle difference from 115; over 200 critical. */
const LIMIT_F = 170;
const AXLE_DIFFERENCE_F = 115;

const railroad = publishedLine(SITES);
/** Two locomotives ahead: not told in what could be read; an assumption. */
const train = publishedTrain(1, 149, 2, []);
const FIRST_AXLE_OF_CAR_23 = 2 * 6 + 22 * 4;
/** Which axle and side of the car is not used by any check; an assumption. */
const hotRow = FIRST_AXLE_OF_CAR_23 + 1;

function passes(side: 0 | 1): PublishedPass[] {
  const startMs = Date.parse("2026-02-03T19:47:00.000Z");
  return SITES.map(({ id, milepost }, at) => ({
    site: id,
    pass: `${at + 1}`,
    beganMs: startMs + ((79.9 - milepost) / MPH) * 3_600_000,
    mph: MPH,
    reported: "falling",
    ran: "falling",
    ambientF: 10,
    hot: { row: hotRow, side, riseF: RISE_F[at] ?? Number.NaN },
  }));
}

describe("the bearing of RRD23MR005 in an otherwise healthy train", () => {
  for (const side of [0, 1] as const) {
    const after = saidAfterEach(railroad, train, passes(side));

    it(`nothing is warned of after the first reading (${side === 0 ? "left" : "right"} side)`, () => {
      expect(after[0]?.warnings.filter((warning) => warning.level !== "watch")).toEqual([]);
    });

    it("after the second reading, both far under the limit, a warn stands for exactly that bearing", () => {
      const acts = after[1]?.warnings.filter((warning) => warning.level !== "watch") ?? [];
      expect(acts).toHaveLength(1);
      const warn = acts[0];
      expect(warn?.level).toBe("warn");
      expect(warn?.site).toBe("second");
      expect(warn?.axle).toBe(hotRow + 1);
      expect(warn?.side).toBe(side === 0 ? "left" : "right");
      expect(warn?.vehicle).toMatchObject({ kind: "car", ordinalOfKind: 23, axleInVehicle: 2 });
      expect(warn?.place).toContain("car 23 from the head");
    });

    it("its projected crossing lies before the third site", () => {
      const crossing = after[1]?.warnings.findLast((warning) => warning.level === "warn")?.crossing;
      expect(crossing?.miles).toBeGreaterThan(0);
      expect(crossing?.miles).toBeLessThan(19.2);
      expect(crossing?.low).toBeLessThanOrEqual(crossing?.miles ?? 0);
      expect(crossing?.milepost).toBeGreaterThan(49.81);
    });

    it("the third reading is the limit, of the same warning", () => {
      const last = after[2]?.warnings.at(-1);
      expect(last?.level).toBe("limit");
      expect(last?.riseF).toBe(253);
      expect(last?.id).toBe(after[1]?.warnings.findLast((warning) => warning.level === "warn")?.id);
      expect(last?.version).toBeGreaterThan(1);
    });

    it("the three passes are one journey", () => {
      expect(after.at(-1)?.joins).toEqual(["first 3 alone", "second 3 joined", "third 3 joined"]);
    });
  }

  it("no single-site rule of the time fires on the first two readings", () => {
    const coolest = Math.min(...train.healthyF.flat());
    for (const riseF of RISE_F.slice(0, 2)) {
      expect(riseF).toBeLessThan(LIMIT_F);
      expect(riseF - coolest).toBeLessThan(AXLE_DIFFERENCE_F);
    }
  });
});
