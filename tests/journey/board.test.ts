import fc from "fast-check";
import { expect, test } from "vitest";
import { couldMatch, fingerprint, PrintBoard } from "../../src/journey/fingerprint.ts";
import { Walk } from "../../src/journey/walk.ts";
import { coalCar, Dice, mixedTrain, see, unitTrain } from "./train.ts";

const here = { site: "s0", direction: "rising" as const, hour: 1 };

function gapsOf(dice: Dice): Float32Array {
  const train = dice.chance(0.3) ? unitTrain(dice, dice.whole(2, 60), coalCar) : mixedTrain(dice, dice.whole(2, 60));
  return see(dice, train, here).pass.gapInches;
}

test("a board says of every pattern on it what the two patterns side by side say", () => {
  const board = new PrintBoard();
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 1_000_000 }), fc.nat(300), (seed, place) => {
      const dice = new Dice(seed);
      const [known, seen] = [fingerprint(gapsOf(dice)), fingerprint(gapsOf(dice))];
      board.put(place, known);
      expect(board.couldMatch(place, seen)).toBe(couldMatch(known, seen));
      expect(board.couldMatch(place, known)).toBe(true);
    }),
    { numRuns: 500, seed: 3 },
  );
});

test("a walk that is said not to begin stops where it begins, over a part of a pattern as over all of it", () => {
  let stopped = 0;
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 1_000_000 }), fc.constantFrom(1 as const, -1 as const), fc.nat(20), (seed, way, moved) => {
      const dice = new Dice(seed);
      const [reference, gaps] = [gapsOf(dice), gapsOf(dice)];
      const from = Math.min(moved, reference.length - 2);
      const positions = reference.length - from;
      const walk = new Walk();
      const begins = walk.begins(reference, positions, gaps, gaps.length, way, from);
      walk.run(reference, positions, gaps, gaps.length, way, from);
      if (!begins) expect(walk.matched).toBe(1);
      if (!begins) stopped++;
      const part = new Walk();
      part.run(reference.subarray(from), positions, gaps, gaps.length, way);
      expect([walk.position, walk.row, walk.matched]).toEqual([part.position, part.row, part.matched]);
    }),
    { numRuns: 500, seed: 4 },
  );
  expect(stopped).toBeGreaterThan(50);
});
