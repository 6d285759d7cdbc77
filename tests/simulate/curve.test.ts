import fc from "fast-check";
import { expect, test } from "vitest";
import { BURST_F_PER_MINUTE, CURVE_F_PER_MINUTE, HEATING_MAX_F_PER_MINUTE } from "../../src/simulate/assumptions.ts";
import { CLASS_MILES, classOf, curveAt, developing, FORMS, plateau, rollOver } from "../../src/simulate/curve.ts";
import { stream } from "../../src/simulate/random.ts";

const wishes = fc.record({
  class: fc.constantFrom("slow", "medium", "fast", "burst" as const),
  form: fc.constantFrom(...FORMS),
  share: fc.double({ min: 0, max: 1, noNaN: true }),
  overF: fc.double({ min: 60, max: 160, noNaN: true }),
  mph: fc.double({ min: 35, max: 60, noNaN: true }),
  seed: fc.nat(),
});

test("a developing bearing starts from nothing, and reaches the limit where its curve says", () => {
  fc.assert(
    fc.property(wishes, ({ class: kind, form, share, overF, mph, seed }) => {
      const [low, high] = CLASS_MILES[kind];
      const miles = low + share * (high - low);
      const curve = developing({ class: kind, miles, overF, mph, form }, stream(seed, "curve"));
      expect(curveAt(curve, -5)).toBe(0);
      expect(curveAt(curve, 0)).toBe(0);
      if (curve.kind === "plateau") return;
      expect(curveAt(curve, curve.milesToLimit)).toBeGreaterThanOrEqual(overF);
      expect(curveAt(curve, curve.milesToLimit - 0.5)).toBeLessThan(overF);
      if (kind !== "burst") expect(curve.class).toBe(classOf(curve.milesToLimit));
    }),
    { seed: 3, numRuns: 300 },
  );
});

test("no curve but a burst heats faster than was ever published (FRA, Kesler and Tinto 1989, 12.8 °F/min [P])", () => {
  fc.assert(
    fc.property(wishes, fc.constantFrom("developing", "plateau", "roll-over"), ({ class: kind, share, overF, mph, seed }, what) => {
      const [low, high] = CLASS_MILES[kind];
      const random = stream(seed, "steep");
      const miles = low + share * (high - low);
      const made = {
        developing: () => developing({ class: kind, miles, overF, mph }, random),
        plateau: () => plateau(mph, random),
        "roll-over": () => rollOver(mph, random),
      };
      const curve = made[what]();
      const most = curve.class === "burst" ? BURST_F_PER_MINUTE : CURVE_F_PER_MINUTE;
      for (let mile = 0; mile < 300; mile += 0.25) {
        const perMinute = ((curveAt(curve, mile + 0.25) - curveAt(curve, mile)) / 0.25) * (mph / 60);
        expect(perMinute).toBeLessThanOrEqual(most + 0.01);
      }
      if (curve.class !== "burst") expect(most).toBeLessThan(HEATING_MAX_F_PER_MINUTE);
    }),
    { seed: 4, numRuns: 150 },
  );
});

test("a roll-over comes back to near where it was, a plateau stays where it got", () => {
  fc.assert(
    fc.property(fc.nat(), fc.double({ min: 40, max: 110, noNaN: true }), (seed, peakF) => {
      const over = rollOver(50, stream(seed, "over"), peakF);
      const peak = Math.max(...over.excessF);
      expect(peak).toBeLessThanOrEqual(peakF + 0.01);
      expect(peak).toBeGreaterThan(0.6 * peakF);
      expect(curveAt(over, 400)).toBeLessThanOrEqual(0.21 * peakF);
      const flat = plateau(50, stream(seed, "flat"), peakF);
      expect(curveAt(flat, 300)).toBeCloseTo(peakF, 0);
      expect(curveAt(flat, 400)).toBe(curveAt(flat, 300));
    }),
    { seed: 5 },
  );
});
