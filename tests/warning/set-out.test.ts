import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { chooseSetOut } from "../../src/warning/set-out.ts";
import { anyWays, way } from "./samples.ts";

const RUNS = { numRuns: 3000, seed: 20260301 };
const STOPPING = 1.5;

describe("the set-out place", () => {
  it("is always reached before the low end of the crossing with the stopping distance to spare, and can still be stopped for", () => {
    const miles = fc.double({ min: 0, max: 60, noNaN: true });
    fc.assert(
      fc.property(anyWays, miles, fc.double({ min: 0, max: 3, noNaN: true }), (ways, lowMiles, beyondMiles) => {
        const { chosen, nearest } = chooseSetOut(ways, lowMiles, STOPPING, beyondMiles);
        if (chosen !== null) {
          expect(chosen.miles).toBeLessThanOrEqual(lowMiles - STOPPING);
          expect(chosen.miles).toBeGreaterThanOrEqual(beyondMiles + STOPPING);
          expect(nearest!.miles).toBeLessThanOrEqual(chosen.miles);
        }
        if (ways.length !== 1) return;
        const usable = ways[0]!.setOuts.filter((place) => place.miles <= lowMiles - STOPPING && place.miles >= beyondMiles + STOPPING);
        expect(chosen).toEqual(usable.at(-1) ?? null);
      }),
      RUNS,
    );
  });

  it("can be one on the way to the next site but one, when the limit is that far", () => {
    const ways = [
      way("birch", 10, [["spur", 4]]),
      way(
        "cedar",
        20,
        [
          ["spur", 4],
          ["yard", 16],
        ],
        ["birch"],
      ),
    ];
    expect(chooseSetOut(ways, 18, STOPPING, 0).chosen?.setOut.id).toBe("yard");
    expect(chooseSetOut(ways, 17, STOPPING, 0).chosen?.setOut.id).toBe("spur");
    expect(chooseSetOut(ways, 5, STOPPING, 0).chosen).toBeNull();
  });

  it("is none, said in words, when the train is already too near to stop for it", () => {
    const { chosen, nearest, words } = chooseSetOut([way("birch", 10, [["spur", 2]])], 9, STOPPING, 1);
    expect([chosen, nearest]).toEqual([null, null]);
    expect(words).toBe("No set-out place is in time: only the next 9 miles are safe to count on.");
  });

  it("before a junction is one that lies on every way, even if a way of its own has a later one", () => {
    const ways = [
      way("birch", 20, [
        ["spur", 4],
        ["yard", 12],
      ]),
      way("dale", 25, [
        ["spur", 4],
        ["quarry", 9],
      ]),
    ];
    const { chosen, words } = chooseSetOut(ways, 20, STOPPING, 0);
    expect(chosen?.setOut.id).toBe("spur");
    expect(words).toContain(
      "The way ahead divides: as to the last set-out place in time, towards birch yard siding, 12 miles on; towards dale quarry siding, 9 miles on.",
    );
  });

  it("before a junction is the nearest of the ways' own, and none as soon as one way has none", () => {
    const both = [way("birch", 20, [["yard", 12]]), way("dale", 25, [["quarry", 9]])];
    expect(chooseSetOut(both, 20, STOPPING, 0).chosen?.setOut.id).toBe("quarry");
    const one = [way("birch", 20, [["yard", 12]]), way("dale", 25)];
    const { chosen, words } = chooseSetOut(one, 20, STOPPING, 0);
    expect(chosen).toBeNull();
    expect(words).toContain("towards dale there is none");
  });

  it("is not known at the end of the line", () => {
    expect(chooseSetOut([], 20, STOPPING, 0)).toEqual({
      chosen: null,
      nearest: null,
      words: "No way ahead is known, so no set-out place either.",
    });
  });
});
