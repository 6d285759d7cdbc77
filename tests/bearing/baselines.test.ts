import { describe, expect, test } from "vitest";
import { PUBLISHED_RULES } from "../bench/baselines/published-rules.ts";
import { readingOf } from "./curves.ts";

const score = (name: string, riseF: number[], mateF: number[], nextMiles = 19.2): number => {
  const miles = [0, 10.89, 30.09, 45].slice(0, riseF.length);
  const track = riseF.map((rise, i) => readingOf(miles[i]!, 47, rise - 25, 25, 7));
  const mate = mateF.map((rise, i) => readingOf(miles[i]!, 47, rise - 25, 25, 7));
  const side = riseF.map(() => ({ meanF: 27, sdF: 9 }));
  return PUBLISHED_RULES.find((rule) => rule.name === name)!.score({ track, mate, side, nextMiles });
};

describe("the published rules on the published sequence (readings [S]; the other end of the axle is an assumption)", () => {
  test("on the first two readings no single-site rule of the time fires", () => {
    for (const riseF of [[38], [38, 103]]) {
      const mateF = riseF.map(() => 25);
      expect(score("fixed limit", riseF, mateF)).toBeLessThan(170);
      expect(score("same-axle difference", riseF, mateF)).toBeLessThan(95);
    }
  });

  test("on the third the fixed limit and the same-axle difference fire", () => {
    expect(score("fixed limit", [38, 103, 253], [25, 25, 25])).toBeGreaterThan(200);
    expect(score("same-axle difference", [38, 103, 253], [25, 25, 25])).toBeGreaterThan(115);
  });

  test("the two-point line predicts 217.6 °F for the third site [D]", () => {
    expect(score("two-point line", [38, 103], [25, 25])).toBeCloseTo(217.6, 1);
  });

  test("the K-value is the distance from the side's mean in its standard deviations", () => {
    expect(score("K-value", [38, 103], [25, 25])).toBeCloseTo((103 - 27) / 9, 10);
  });

  test("trends over four need four readings, and say on a straight rise what comes next", () => {
    for (const name of ["least squares over the last four", "Theil-Sen over the last four"]) {
      expect(score(name, [38, 103, 253], [25, 25, 25])).toBe(-Infinity);
      expect(score(name, [30, 40.89, 60.09, 75], [25, 25, 25, 25], 10)).toBeCloseTo(85, 6);
    }
  });

  test("every rule names its source, and is silent when the last site did not measure the bearing", () => {
    for (const rule of PUBLISHED_RULES) {
      expect(rule.source).not.toBe("");
      expect(score(rule.name, [30, 40, 50, Number.NaN], [25, 25, 25, 25])).toBe(-Infinity);
    }
  });
});
