import { describe, expect, test } from "vitest";
import { heatKind, heatOf, heatWords, ratePerMinute } from "../../src/bearing/heat.ts";
import { trackOf } from "../../src/bearing/history.ts";
import { readingOf } from "./curves.ts";
import { journeyOf, legOf, passOf } from "./passes.ts";

const hot = readingOf(15, 45, 60, 30, 7);

describe("one look at axle and vehicle tells heat apart", () => {
  test("one end of one axle: the bearing", () => {
    expect(heatOf([readingOf(0, 45, 5, 30, 7), hot], [])).toBe("bearing");
  });

  test("both ends of the axle, or the whole vehicle, or a glowing wheel: brakes", () => {
    expect(heatOf([{ ...hot, mateExcessF: 55 }], [])).toBe("brakes");
    expect(heatOf([{ ...hot, vehicleExcessF: 50 }], [])).toBe("brakes");
    expect(heatOf([{ ...hot, wheelRiseF: 600 }], [])).toBe("brakes");
  });

  test("the whole side hot and the bearing like the others: sun", () => {
    expect(heatOf([readingOf(0, 45, 4, 60, 7)], ["side-hot"])).toBe("sun");
  });

  test("heat that only a doubted scanner has seen is the scanner's; what a sound one saw before is not", () => {
    const doubted = { ...hot, doubted: true };
    expect(heatOf([doubted], ["scanner-flagged"])).toBe("scanner");
    expect(heatOf([readingOf(0, 45, 40, 30, 7), doubted], ["scanner-flagged"])).toBe("bearing");
  });

  test("like the rest of its side, or not measured at all: none", () => {
    expect(heatOf([readingOf(0, 45, 5, 30, 7)], [])).toBe("none");
    expect(heatOf([], [])).toBe("none");
    expect(heatOf([readingOf(0, 45, Number.NaN, 30, 7)], [])).toBe("none");
  });

  test("asked of a journey it takes the doubts of the rail under the bearing", () => {
    const pass = passOf({ axles: 100, biasF: [45, 0] });
    const journey = journeyOf([legOf(pass, 0)]);
    const ordinary = pass.bearingRiseF[0].findIndex((rise) => Math.abs(rise - 73) < 3);
    expect(heatKind(journey, 0, ordinary, 0, trackOf(journey, ordinary, 0))).toBe("sun");
    expect(heatKind(journey, 0, ordinary, 1, trackOf(journey, ordinary, 1))).toBe("none");
  });

  test("each kind is said in a sentence, and a rate needs time to have passed", () => {
    for (const kind of ["bearing", "brakes", "scanner", "sun", "none"] as const) expect(heatWords(kind)).toMatch(/\.$/);
    expect(ratePerMinute(readingOf(0, 60, 0, 30, 7), readingOf(10, 60, 50, 30, 7))).toBeCloseTo(5, 9);
    expect(ratePerMinute(hot, hot)).toBeNaN();
  });
});
