import fc from "fast-check";
import { expect, test } from "vitest";
import { editDistance, nearestWord } from "../../src/line/spelling.ts";

// Worked example of the Levenshtein distance in common use: kitten to sitting takes 3 edits (common practice, no primary source read).
test("counts insertions, deletions, replacements and swaps of neighbours", () => {
  expect(editDistance("kitten", "sitting")).toBe(3);
  expect(editDistance("milepost", "mielpost")).toBe(1);
  expect(editDistance("", "rise")).toBe(4);
});

test("is a distance: nothing to itself, the same both ways, never more than the longer word", () => {
  const word = fc.string({ maxLength: 12 });
  fc.assert(
    fc.property(word, word, (a, b) => {
      expect(editDistance(a, a)).toBe(0);
      expect(editDistance(a, b)).toBe(editDistance(b, a));
      expect(editDistance(a, b)).toBeLessThanOrEqual(Math.max(a.length, b.length));
    }),
    { seed: 3, numRuns: 500 },
  );
});

test("gives up early only on words that are farther apart", () => {
  const word = fc.string({ unit: fc.constantFrom("a", "b", "c"), maxLength: 8 });
  fc.assert(
    fc.property(word, word, fc.nat(8), (a, b, atMost) => {
      const edits = editDistance(a, b);
      const bounded = editDistance(a, b, atMost);
      expect(bounded === edits || (edits > atMost && bounded === Number.POSITIVE_INFINITY)).toBe(true);
    }),
    { seed: 5, numRuns: 2000 },
  );
});

test("suggests a near word and keeps silent when none is near", () => {
  expect(nearestWord("trakcs", ["tracks", "trains", "miles"])).toBe("tracks");
  expect(nearestWord("colour", ["tracks", "trains", "miles"])).toBeNull();
  expect(nearestWord("x", [])).toBeNull();
});
