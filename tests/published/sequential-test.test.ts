import { describe, expect, it } from "vitest";
import { stream } from "../../src/simulate/random.ts";
import { accumulate, emptyCusum, evidenceOf } from "../../src/site/cusum.ts";
import { poissonAtLeast, poissonEvidence, poissonLowerBound } from "../../src/site/poisson.ts";
import { boundaries, weigh } from "../../src/site/sequential-test.ts";

/**
 * Error rates of the sequential tests against their theory: Wald (1945), Annals of Mathematical Statistics 16: with boundaries
 * ln((1 - b) / a) and ln(b / (1 - a)) the true error shares a', b' obey a' <= a / (1 - b), b' <= b / (1 - a) and a' + b' <= a + b
 * [M], and follow in two lines from the likelihood ratio [D]. Lorden (1971), same journal 42: a sum of log likelihood ratios with
 * decision interval h has an average run length of at least exp(h) [M].
 */
const RUNS = 20_000;

describe("Wald's sequential test", () => {
  it.each([
    [0.05, 0.1],
    [0.01, 0.01],
    [0.002, 0.05],
  ])("keeps its shares of wrong answers (wanted: %d and %d)", (mistaken, missed) => {
    const random = stream(7, "wald", String(mistaken));
    const bounds = boundaries(mistaken, missed);
    const share = (chance: number, answer: "wrong" | "well") => {
      let count = 0;
      for (let run = 0; run < RUNS; run++) {
        const test = { evidence: 0 };
        let said: string | null = null;
        while (said === null) said = weigh(test, evidenceOf(random.chance(chance), 0.1, 0.25), bounds);
        if (said === answer) count++;
      }
      return count / RUNS;
    };
    const falsely = share(0.1, "wrong");
    const overlooked = share(0.25, "well");
    const error = (rate: number) => 4 * Math.sqrt((rate * (1 - rate)) / RUNS);
    expect(falsely).toBeLessThanOrEqual(mistaken / (1 - missed) + error(mistaken));
    expect(overlooked).toBeLessThanOrEqual(missed / (1 - mistaken) + error(missed));
    expect(falsely + overlooked).toBeLessThanOrEqual(mistaken + missed + error(mistaken) + error(missed));
    // It is a test, not a refusal to answer: the shares are not far under what was allowed.
    expect(falsely).toBeGreaterThan(mistaken / 4);
  });

  it("takes about as many steps as Wald's approximation says", () => {
    // Expected steps when well: (a ln((1-b)/a) + (1-a) ln(b/(1-a))) / E[score | well] (Wald 1945, [M]); it neglects the overshoot.
    const random = stream(8, "wald");
    const [mistaken, missed] = [0.05, 0.05];
    const bounds = boundaries(mistaken, missed);
    const mean = 0.1 * evidenceOf(true, 0.1, 0.25) + 0.9 * evidenceOf(false, 0.1, 0.25);
    const expected = (mistaken * bounds.wrong + (1 - mistaken) * bounds.well) / mean;
    let steps = 0;
    for (let run = 0; run < RUNS; run++) {
      const test = { evidence: 0 };
      do steps++;
      while (weigh(test, evidenceOf(random.chance(0.1), 0.1, 0.25), bounds) === null);
    }
    expect(steps / RUNS / expected).toBeGreaterThan(1);
    expect(steps / RUNS / expected).toBeLessThan(1.2);
  });
});

describe("a running sum of log likelihood ratios", () => {
  it.each([5, 6, 7])("answers falsely no more often than once in exp(%d) steps (Lorden 1971)", (decision) => {
    const random = stream(9, "lorden", String(decision));
    let steps = 0;
    let answers = 0;
    while (answers < 400) {
      const sum = emptyCusum();
      do steps++;
      while (!accumulate(sum, evidenceOf(random.chance(0.02), 0.02, 0.3), decision, 0));
      answers++;
    }
    // Four standard errors of the mean of 400 nearly exponential run lengths.
    expect(steps / answers).toBeGreaterThan(Math.exp(decision) * (1 - 4 / 20));
  });

  it("answers soon when something is wrong: within the decision interval over the mean evidence, and little more", () => {
    const random = stream(10, "lorden");
    const decision = Math.log(1e6);
    const mean = 0.3 * evidenceOf(true, 0.02, 0.3) + 0.7 * evidenceOf(false, 0.02, 0.3);
    let steps = 0;
    for (let run = 0; run < 2_000; run++) {
      const sum = emptyCusum();
      do steps++;
      while (!accumulate(sum, evidenceOf(random.chance(0.3), 0.02, 0.3), decision, 0));
    }
    expect(steps / 2_000).toBeLessThan((1.25 * decision) / mean);
  });
});

describe("confidence bounds of a count", () => {
  // Exact limits of a Poisson mean: Garwood (1936); for 10 events the two-sided 95 % interval is 4.795 to 18.39 [M]. The check
  // itself needs no table: at the bound, so many or more come with exactly the doubt that was allowed [D].
  it("for 10 events and a doubt of 2.5 % the lower bound is the well-known 4.795", () => {
    expect(poissonLowerBound(10, 0.025)).toBeCloseTo(4.7954, 3);
  });

  it.each([1, 3, 12, 40])("at the bound for %d events so many or more come with the doubt allowed", (count) => {
    for (const doubt of [0.05, 1e-3, 1e-5]) expect(poissonAtLeast(count, poissonLowerBound(count, doubt)) / doubt).toBeCloseTo(1, 3);
  });

  it("evidence of a count is the logarithm of the ratio of its two chances", () => {
    const chance = (count: number, mean: number) => poissonAtLeast(count, mean) - poissonAtLeast(count + 1, mean);
    for (const count of [0, 2, 9]) expect(poissonEvidence(count, 3, 6)).toBeCloseTo(Math.log(chance(count, 6) / chance(count, 3)), 6);
  });
});
