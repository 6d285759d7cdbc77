import fc from "fast-check";
import { expect, test } from "vitest";
import { readLine } from "../../src/line/line-file.ts";
import { inventLine, SPARSE_MILES } from "../../src/simulate/invent-line.ts";
import { routesOf } from "../../src/simulate/route.ts";
import { run } from "./line.ts";

test("an invented line of any length is a line file without a mistake, with a way from end to end", () => {
  fc.assert(
    fc.property(fc.nat(), fc.integer({ min: 2, max: 260 }), fc.double({ min: 0, max: 1, noNaN: true }), (seed, sites, doubleShare) => {
      const { railroad, mistakes } = readLine(inventLine({ seed, sites, milesLow: 9, milesHigh: 20, doubleShare }), "invented.yaml");
      expect(mistakes).toEqual([]);
      if (railroad === null) return;
      expect(routesOf(railroad).map((route) => route.length)).toEqual([sites, sites]);
    }),
    { seed: 8, numRuns: 25 },
  );
});

test("the sparse world's sites are 25 to 40 miles apart, and trains run there", () => {
  const { railroad } = readLine(inventLine({ seed: 2, sites: 12, ...SPARSE_MILES, doubleShare: 0.3 }), "sparse.yaml");
  if (railroad === null) throw new Error("not read");
  for (const link of railroad.links) expect([link.miles >= 24.9, link.miles <= 40.1]).toEqual([true, true]);
  const { passes, trains } = run({ railroad, seed: 3, hours: 20, world: "sparse", quiet: true });
  expect(passes.length).toBeGreaterThan(5 * trains.length);
});

test("each corridor reads as many of its neighbour's sites as were wished for", () => {
  const wishes = { seed: 4, sites: 40, milesLow: 9, milesHigh: 20, doubleShare: 0 };
  const leadIns = (leadInSites?: number): number[] => {
    const text = inventLine(leadInSites === undefined ? wishes : { ...wishes, leadInSites });
    return readLine(text, "invented.yaml").railroad!.corridors.map((corridor) => corridor.leadIn.length);
  };
  expect(leadIns()).toEqual([2, 4, 2]);
  expect(leadIns(8)).toEqual([8, 16, 8]);
});
