import fc from "fast-check";
import { expect, test } from "vitest";
import { SpacingScore } from "../../src/journey/spacing-score.ts";

const inches = fc.oneof(fc.double({ min: 40, max: 700, noNaN: true }), fc.constant(Number.NaN));
const spacings = fc.array(inches, { minLength: 6, maxLength: 12 }).map((values) => Float32Array.from(values));

test("a row in one go is worth what each of its columns is worth asked for alone", () => {
  fc.assert(
    fc.property(spacings, spacings, fc.double({ min: 0.97, max: 1.03, noNaN: true }), (reference, gaps, scale) => {
      const score = new SpacingScore().over(reference, gaps, 1, 2, scale, 1.5);
      const columns = gaps.length - 3;
      const column = () => new Float64Array(columns + 1);
      const worth = { steps: column(), freshes: column(), misses: column(), doubles: column() };
      for (let i = 1; i < reference.length - 1; i++) {
        score.worthOfRow(i, 1, columns, worth);
        for (let j = 1; j <= columns; j++) {
          expect(worth.steps[j]).toBe(score.step(i, j));
          expect(worth.freshes[j]).toBe(score.fresh(i, j));
          if (i > 1) expect(worth.misses[j]).toBe(score.missed(i, j));
          if (j > 1) expect(worth.doubles[j]).toBe(score.doubled(i, j));
        }
      }
    }),
    { numRuns: 200 },
  );
});
