import { describe, expect, test } from "vitest";
import { outlook } from "../../src/bearing/outlook.ts";
import { crossingOfLine, straightLine, theilSen } from "../../src/bearing/trend.ts";
import { readingOf } from "../bearing/curves.ts";

// NTSB investigation RRD23MR005, preliminary report of 23 Feb 2023: readings [S]; what is derived from them [D].
const mileposts = [79.9, 69.01, 49.81];
const miles = mileposts.map((milepost) => 79.9 - milepost);
const riseF = [38, 103, 253];
const MPH = 47;

describe("the published sequence 38, 103, 253 °F above ambient", () => {
  test("derived [D]: legs, slopes by mile and minute, least squares, Theil-Sen", () => {
    expect(miles[1]).toBeCloseTo(10.89, 10);
    expect(miles[2]! - miles[1]!).toBeCloseTo(19.2, 10);
    const first = straightLine(miles.slice(0, 2), riseF.slice(0, 2))!;
    const second = straightLine(miles.slice(1), riseF.slice(1))!;
    expect(first.slope).toBeCloseTo(5.96878, 5);
    expect(second.slope).toBeCloseTo(7.8125, 8);
    expect((first.slope * MPH) / 60).toBeCloseTo(4.676, 3);
    expect((second.slope * MPH) / 60).toBeCloseTo(6.12, 3);
    const line = straightLine(miles, riseF)!;
    expect(line.slope).toBeCloseTo(7.22167865, 8);
    expect(line.intercept).toBeCloseTo(32.68520297, 7);
    expect(line.r2).toBeCloseTo(0.9956116041, 9);
    expect(line.slopeSd).toBeCloseTo(0.4794530463, 9);
    expect(theilSen(miles, riseF)!.slope).toBeCloseTo(7.145230974, 9);
  });

  test("derived [D]: the line through the first two readings crosses 170 °F at MP 57.785 and 200 °F at MP 52.759", () => {
    const line = straightLine(miles.slice(0, 2), riseF.slice(0, 2))!;
    expect(79.9 - crossingOfLine(line, 170, miles[1]!)!).toBeCloseTo(57.785, 3);
    expect(79.9 - crossingOfLine(line, 200, miles[1]!)!).toBeCloseTo(52.759, 3);
    expect(line.intercept + line.slope * miles[2]!).toBeCloseTo(217.6, 1);
    // An exponential through the same two is why none is used.
    expect(38 * (103 / 38) ** (miles[2]! / miles[1]!)).toBeCloseTo(597.5, 0);
  });

  test("after the second reading, far under the limit, the chance of a crossing before the third site is far over what warns", () => {
    // In an otherwise healthy train: median 25, spread 7 (assumption; not published).
    const track = [readingOf(0, MPH, 38 - 25, 25, 7), readingOf(miles[1]!, MPH, 103 - 25, 25, 7)];
    const seen = outlook(track, 170 - 25, [{ site: "third", miles: 19.2 }]);
    // The demonstration's rules warn from 0.2; the two readings alone leave a trend that ends by itself nearly as likely.
    expect(seen.chanceNext).toBeGreaterThan(0.3);
    expect(seen.rising).toBeGreaterThan(0.4);
    expect(seen.crossing!.miles).toBeLessThan(19.2);
    expect(seen.steady + seen.healthy).toBeLessThan(0.3);
  });

  test("after the first reading nothing stands out", () => {
    const seen = outlook([readingOf(0, MPH, 13, 25, 7)], 145, [{ site: "second", miles: 10.89 }]);
    expect(seen.chanceNext).toBeLessThan(0.01);
    expect(seen.crossing).toBeNull();
  });

  test("after the third it has crossed", () => {
    const track = miles.map((mile, i) => readingOf(mile, MPH, riseF[i]! - 25, 25, 7));
    const seen = outlook(track, 145, [{ site: "next", miles: 15 }]);
    expect(seen.chanceNext).toBeGreaterThan(0.95);
    expect(seen.crossing!.miles).toBe(0);
  });
});
