import fc from "fast-check";
import { expect, test } from "vitest";
import { stream } from "../../src/simulate/random.ts";

test("a stream is the same for the same seed and name, and another for any other", () => {
  fc.assert(
    fc.property(fc.nat(), fc.string(), fc.string(), (seed, one, other) => {
      const draw = (name: string, at = seed): number[] => {
        const random = stream(at, name);
        return [random.bits(), random.bits(), random.bits()];
      };
      expect(draw(one)).toEqual(draw(one));
      if (one !== other) expect(draw(one)).not.toEqual(draw(other));
      expect(draw(one, seed + 1)).not.toEqual(draw(one));
    }),
    { seed: 1 },
  );
});

test("numbers stay inside what was asked for", () => {
  const random = stream(3, "bounds");
  for (let i = 0; i < 20_000; i++) {
    const unit = random.unit();
    expect(unit >= 0 && unit < 1).toBe(true);
    const whole = random.whole(-3, 4);
    expect(whole >= -3 && whole <= 4 && Number.isInteger(whole)).toBe(true);
    expect(random.exponential(2)).toBeGreaterThanOrEqual(0);
  }
});

test("normal, exponential and counted draws have their means and spreads", () => {
  const random = stream(5, "moments");
  const n = 100_000;
  let sum = 0;
  let squares = 0;
  let beyondTwo = 0;
  let exponential = 0;
  let counted = 0;
  for (let i = 0; i < n; i++) {
    const value = random.normal();
    sum += value;
    squares += value * value;
    if (Math.abs(value) > 1.959964) beyondTwo++;
    exponential += random.exponential(3);
    counted += random.count(0.4);
  }
  expect(sum / n).toBeCloseTo(0, 1);
  expect(squares / n).toBeCloseTo(1, 1);
  // 1.959964 is the two-sided 5 % point of the normal distribution (from memory, common practice).
  expect(beyondTwo / n).toBeCloseTo(0.05, 2);
  expect(exponential / n).toBeCloseTo(3, 1);
  expect(counted / n).toBeCloseTo(0.4, 1);
});

test("weights decide how often a thing is picked, and nothing is picked from nothing", () => {
  const random = stream(7, "weights");
  let first = 0;
  for (let i = 0; i < 20_000; i++)
    if (
      random.weighted([
        { weight: 3, value: 1 },
        { weight: 1, value: 0 },
      ]) === 1
    )
      first++;
  expect(first / 20_000).toBeCloseTo(0.75, 1);
  expect(() => random.pick([])).toThrow(/SIM-001/);
});
