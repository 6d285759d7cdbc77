import { expect, test } from "vitest";
import { heatOf } from "../../src/bearing/heat.ts";
import { FASTEST_COOLING_F_PER_MINUTE, FASTEST_HEATING_F_PER_MINUTE, MODEL_NUMBERS } from "../../src/bearing/model-numbers.ts";
import { outlook } from "../../src/bearing/outlook.ts";
import { readingOf } from "../bearing/curves.ts";

// FRA, Kesler and Tinto, 18 Dec 1989 [P]: fastest heating 12.8, fastest cooling 7.2 degrees a minute, read as °F.
test("the fastest published heating and cooling are the model's (FRA 1989 [P])", () => {
  expect(FASTEST_HEATING_F_PER_MINUTE).toBe(12.8);
  expect(FASTEST_COOLING_F_PER_MINUTE).toBe(7.2);
  // 16.3 °F a mile at 47 mph [D].
  expect((FASTEST_HEATING_F_PER_MINUTE * 60) / 47).toBeCloseTo(16.34, 2);
});

test("a scanner can under-read by up to 85 °F (me_fac/185 [P])", () => {
  expect(MODEL_NUMBERS.underReadMaxF).toBe(85);
});

test("the published sequence stays under the fastest published heating (6.120 °F/min [D]), and is not said to exceed it", () => {
  const track = [readingOf(0, 47, 13, 25, 7), readingOf(10.89, 47, 78, 25, 7), readingOf(30.09, 47, 228, 25, 7)];
  expect(outlook(track, 145, [{ site: "next", miles: 15 }]).fasterThanPublished).toBe(false);
});

test("a projection that heats faster than any published bearing says so", () => {
  // 20 °F a mile at 47 mph is 15.7 °F a minute.
  const track = [0, 5, 10, 15].map((miles, i) => readingOf(miles, 47, [0, 5, 60, 165][i]!, 25, 7));
  expect(outlook(track, 145, [{ site: "next", miles: 15 }]).fasterThanPublished).toBe(true);
});

test("a jump at three times the fastest published heating is the scanner, not the bearing", () => {
  const jump = [readingOf(0, 40, 3, 25, 7), readingOf(1, 40, 70, 25, 7)];
  expect(heatOf(jump, [])).toBe("scanner");
  const slower = [readingOf(0, 40, 3, 25, 7), readingOf(10, 40, 70, 25, 7)];
  expect(heatOf(slower, [])).toBe("bearing");
});
