import { describe, expect, it } from "vitest";
import { runsWithin, sitePlaces } from "../../src/replay/report/band-layout.ts";

const SIZE = { siteRow: 20, mostPerMile: 5, least: 90, most: 560 };

describe("the levels of a band", () => {
  it("stand to scale by miles, far enough apart for names where the paper allows", () => {
    const sites = [
      { site: "a", miles: 0 },
      { site: "b", miles: 10 },
      { site: "c", miles: 40 },
    ];
    const places = sitePlaces({ sites, miles: 40 }, 50, SIZE);
    // The two nearest are 10 miles apart and want 20: 2 a mile, 80 in all, and a band is at least 90 high.
    expect([...places.values()]).toEqual([50, 50 + 90 / 4, 140]);
    // A mile apart over 200 miles would be 1,000 high: no more than the paper holds.
    const long = [0, 1, 200].map((miles, i) => ({ site: `s${i}`, miles }));
    expect(Math.max(...sitePlaces({ sites: long, miles: 200 }, 0, SIZE).values())).toBe(560);
  });

  it("of one site alone are no fault", () => {
    expect([...sitePlaces({ sites: [{ site: "a", miles: 0 }], miles: 0 }, 7, SIZE)]).toEqual([["a", 7]]);
  });
});

describe("a train's line in a band", () => {
  const places = new Map([
    ["a", 0],
    ["b", 1],
    ["j", 2],
  ]);
  const passes = (sites: string) => [...sites].map((site) => ({ site }));
  const runs = (sites: string, branchOf: string | null = null) =>
    runsWithin(passes(sites), places, branchOf).map((run) => run.map(({ site }) => site).join(""));

  it("is broken where it was elsewhere in between", () => {
    expect(runs("abxja")).toEqual(["ab", "ja"]);
    expect(runs("xx")).toEqual([]);
  });

  it("is none on a branch of which it only passed the junction", () => {
    expect(runs("jxabj", "j")).toEqual(["abj"]);
  });
});
