import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { hazardWeight, sitesAhead, waysAhead } from "../../src/warning/ahead.ts";
import { milepostAhead } from "../../src/warning/crossing-place.ts";
import { anyWays, RULES, straightRailroad, way } from "./samples.ts";

describe("the sites ahead", () => {
  it("before a junction are the farthest of the neighbours, for the longer gap is the worse one", () => {
    const ways = [way("birch", 9), way("dale", 25), way("cedar", 30, [], ["birch"]), way("elm", 28, [], ["dale"])];
    expect(sitesAhead(ways, RULES)).toEqual([
      { site: "dale", miles: 25 },
      { site: "cedar", miles: 30 },
    ]);
  });

  it("are followed by the distance that the rules look ahead for a warn, where they set one", () => {
    const raise = { ...RULES.levels.warn.raise, within: { miles: 120, chance: 0.5 } };
    const far = { ...RULES, levels: { ...RULES.levels, warn: { ...RULES.levels.warn, raise } } };
    expect(sitesAhead([way("birch", 9)], far)[2]).toEqual({ site: "", miles: 120 });
  });

  it("at the end of the line are the assumed gap of the rules, and always two, the second no nearer than the first", () => {
    const gap = RULES.hazard.assumedGapMiles;
    expect(sitesAhead([], RULES).map((ahead) => ahead.miles)).toEqual([gap, 2 * gap]);
    fc.assert(
      fc.property(anyWays, (ways) => {
        const [next, nextButOne] = sitesAhead(ways, RULES);
        expect(nextButOne!.miles).toBeGreaterThanOrEqual(next!.miles);
      }),
      { seed: 20260301 },
    );
  });
});

describe("the ways ahead of a leg", () => {
  const railroad = straightRailroad(5);
  const leg = (outAhead?: string[]) =>
    ({ pass: { site: "s1", track: "1" }, direction: "rising", ...(outAhead && { outAhead }) }) as unknown as Parameters<
      typeof waysAhead
    >[1];
  const told = (out?: string[]) => waysAhead(railroad, leg(out)).map(({ site, over }) => [site, over]);

  it("are those of the line to the next site and the next but one", () => {
    expect(told()).toEqual(railroad.ahead("s1", "1", "rising", 2).map(({ site, over }) => [site, over]));
  });

  it("go over a site that is out of service as if it were not there: the longer gap is the one that counts", () => {
    expect(told(["s2"])).toEqual([
      ["s3", []],
      ["s4", ["s3"]],
    ]);
    const [, three] = railroad.ahead("s1", "1", "rising", 2);
    expect(waysAhead(railroad, leg(["s2"]))[0]).toMatchObject({ site: "s3", miles: three!.miles, setOuts: three!.setOuts });
    expect(told(["s2", "s3"])[0]).toEqual(["s4", []]);
  });
});

describe("the weight of the gap ahead", () => {
  const weight = (miles: number, places: [string, number][] = [["spur", 2]]) => hazardWeight([way("birch", miles, places)], RULES);

  it("follows the table of the rules, straight between its steps and flat outside", () => {
    expect([weight(2), weight(10), weight(40), weight(90)]).toEqual([1, 1, 1.5, 1.5]);
    expect(weight(17.5)).toBeCloseTo(1.1, 12);
    expect(weight(32.5)).toBeCloseTo(1.35, 12);
  });

  it("is more where no set-out place lies in it", () => {
    expect(weight(10, [])).toBeCloseTo(RULES.hazard.withoutSetOut, 12);
  });

  it("never falls as the gap grows", () => {
    fc.assert(
      fc.property(fc.double({ min: 1, max: 60, noNaN: true }), fc.double({ min: 0, max: 40, noNaN: true }), (miles, more) => {
        expect(weight(miles + more)).toBeGreaterThanOrEqual(weight(miles));
      }),
      { seed: 20260301 },
    );
  });
});

describe("the milepost of a crossing", () => {
  const railroad = straightRailroad(4);
  const ahead = railroad.ahead("s1", "1", "rising", 2);

  it("is told on the one way to the next site, rising or falling", () => {
    expect(milepostAhead(railroad, "s1", ahead, 7.25)).toEqual({ milepost: 117.25, line: "main" });
    expect(milepostAhead(railroad, "s1", railroad.ahead("s1", "1", "falling", 1), 7.25)).toEqual({ milepost: 102.75, line: "main" });
  });

  it("is not told beyond the next site, before a junction, or at the end of the line", () => {
    expect(milepostAhead(railroad, "s1", ahead, 10.1)).toBeNull();
    expect(milepostAhead(railroad, "s1", [...ahead, way("s3", 12)], 7)).toBeNull();
    expect(milepostAhead(railroad, "s1", [], 7)).toBeNull();
  });

  it("is not told where mileposts jump, and is where they run true on the near side of the jump", () => {
    const jumped = straightRailroad(4);
    jumped.sites.get("s2")!.milepost = 340;
    const ways = jumped.ahead("s1", "1", "rising", 1);
    expect(milepostAhead(jumped, "s1", ways, 4)).toEqual({ milepost: 114, line: "main" });
    expect(milepostAhead(jumped, "s1", ways, 7)).toBeNull();
  });
});
