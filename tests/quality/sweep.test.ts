import fc from "fast-check";
import { expect, test } from "vitest";
import { type DevelopingCase, ENGINE, type Nuisance } from "./outcome.ts";
import { isWarned, type Pool, sweep, thresholdAt } from "./sweep.ts";

function nuisance(score: number, toldFrom = Number.NEGATIVE_INFINITY): Nuisance {
  return { train: "T1", axle: 0, side: 0, score, toldFrom, miles: 0, kind: "healthy", besideLive: false, trueNamesScore: score, curve: [] };
}

function poolWith(nuisances: Nuisance[], passes: number, cases: DevelopingCase[] = []): Pool {
  return { rules: [ENGINE], passes, cases, nuisances: [nuisances.sort((a, b) => b.score - a.score)] };
}

test("no rule is ever given more nuisances than the cost allows, and a lower threshold would cost more", () => {
  fc.assert(
    fc.property(
      fc.array(fc.record({ score: fc.integer({ min: 0, max: 40 }), told: fc.option(fc.integer({ min: 0, max: 40 })) }), { maxLength: 60 }),
      fc.integer({ min: 1, max: 20_000 }),
      fc.constantFrom(0.5, 1, 2, 5),
      (scores, passes, cost) => {
        const found = scores.map(({ score, told }) => nuisance(score, told !== null && told < score ? told : undefined));
        const pool = poolWith(found, passes);
        const threshold = thresholdAt(pool, 0, cost);
        const allowed = Math.floor((cost * passes) / 1_000);
        expect(found.filter((one) => isWarned(one, threshold)).length).toBeLessThanOrEqual(allowed);
        const next = Math.max(...found.map((one) => one.score).filter((score) => score < threshold));
        if (Number.isFinite(next)) expect(found.filter((one) => isWarned(one, next)).length).toBeGreaterThan(allowed);
      },
    ),
    { numRuns: 2_000, seed: 1 },
  );
});

test("a bearing is warned of early by a pass before its first reading at the limit, at the miles of that pass", () => {
  const one: DevelopingCase = {
    number: 1,
    train: "T1",
    axle: 8,
    side: 1,
    class: "slow",
    form: "power",
    onsetMile: 0,
    crossingMile: 52,
    failureMile: null,
    limitMile: 60,
    chances: [
      { miles: 10, scores: [0.1] },
      { miles: 30, scores: [0.9] },
      { miles: 45, scores: [1.4] },
    ],
    readings: 3,
    knowable: true,
    curve: [],
  };
  const [cheap] = sweep(poolWith([nuisance(0.5), nuisance(1.2)], 1_000, [one])).filter((cell) => cell.cost === 1);
  expect(cheap!.threshold).toBe(1.2);
  expect(cheap!.early.slow.hits).toBe(1);
  expect(cheap!.leadToCrossing.median).toBe(7);
  expect(cheap!.leadToLimit.median).toBe(15);
});
