import { expect, test } from "vitest";
import { hypotenuse, hypotenuseOfThree } from "../../src/bearing/hypotenuse.ts";
import { randomOf } from "./curves.ts";

test("two and three parts give what Math.hypot gives, within its last bit on any engine", () => {
  const random = randomOf(7);
  for (let i = 0; i < 20_000; i++) {
    const [a, b, c] = [(random() - 0.5) * 100, random() * 40 * random(), (random() - 0.5) * 1e-3 * 10 ** (6 * random())];
    expect(Math.abs(hypotenuse(a, b) / Math.hypot(a, b) - 1)).toBeLessThan(3e-16);
    expect(Math.abs(hypotenuseOfThree(a, b, c) / Math.hypot(a, b, c) - 1)).toBeLessThan(3e-16);
  }
});

test("nothing, one part alone, and what was not measured", () => {
  expect(hypotenuse(0, 0)).toBe(0);
  expect(hypotenuseOfThree(0, 0, 0)).toBe(0);
  expect(hypotenuse(-7.3, 0)).toBe(7.3);
  expect(hypotenuseOfThree(0, 7.3, 0)).toBe(7.3);
  expect(hypotenuse(3, 4)).toBe(5);
  expect(hypotenuseOfThree(Number.NaN, 1, 2)).toBeNaN();
});
