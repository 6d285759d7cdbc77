import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { decide } from "../../src/warning/decide.ts";
import { degrees, milesWords, minutesWords, percent, readingWords, sentence } from "../../src/warning/words.ts";
import { anyLook, anyStanding, look, outlook, RULES, reading, way } from "./samples.ts";

const RUNS = { numRuns: 2000, seed: 20260301 };
/** Words of statistics and of programs that nobody in an operations centre should have to know. */
const JARGON = /posterior|prior|hypothes|sigma|\bMAD\b|median|outlier|likelihood|NaN|undefined|null|Infinity|\bAPI\b|\{|\}|_/;

describe("reasons", () => {
  it("are whole sentences in plain words, whatever is known or missing", () => {
    fc.assert(
      fc.property(anyLook, anyStanding, (any, before) => {
        const { reasons, advice, level, sight } = decide(any, before, RULES);
        if (level !== null) expect(reasons.length).toBeGreaterThanOrEqual(sight === "gone" ? 2 : 3);
        for (const words of [...reasons, ...(advice === "" ? [] : [advice])]) {
          expect(words).toMatch(/^[A-Z].*[.]$/);
          expect(words).not.toMatch(JARGON);
          expect(words).not.toMatch(/ {2}|(?<!\w)-0 |\.\.|,,|, \./);
          // Every temperature has its unit.
          expect(words).not.toMatch(/reads [0-9.]+(?! °F|[0-9.])/);
        }
      }),
      RUNS,
    );
  });

  it("of a warn say what was read, how it compares, how it moves, what the chances are and what a ruler would say", () => {
    const warned = look({
      siteName: "Alder",
      milepost: 69.01,
      riseF: 103,
      excessF: 78,
      mateRiseF: 24,
      speedMph: 47,
      track: [reading(0, 38), reading(10.89, 103)],
      outlook: outlook({
        chanceNext: 0.83,
        chanceNextButOne: 0.9,
        rising: 0.87,
        steady: 0.08,
        wandering: 0.03,
        healthy: 0.02,
        slopeFPerMile: 5.97,
        slopeSdFPerMile: 1.1,
        crossing: { miles: 11.2, low: 8.4, high: 18 },
      }),
      ahead: [way("birch-49", 19.2, [["spur", 4]])],
      doubts: ["the train ran slowly over the site, which can change a reading"],
    });
    expect(decide(warned, null, RULES).reasons).toEqual([
      "The bearing reads 103 °F above ambient at Alder (milepost 69.01).",
      "The limit is 170 °F.",
      "With the scanner's bias taken out it is 78 °F over its own kind; the cars' bearings on its side of the train read about 25 °F, give or take 7 °F.",
      "The other bearing of the axle reads 24 °F above ambient.",
      "One end of one axle is hot: the bearing itself.",
      "Against its side it rises by 6 °F a mile (give or take 1.1 °F), which is 4.7 °F a minute at 47 mph.",
      // TRADE 1.1 [D]: the line through the first two published readings crosses 170 °F 11.225 miles after the second.
      "A straight line through its last 2 readings rises by 6 °F a mile and reaches 170 °F in 11.2 miles.",
      "The chance of reaching 170 °F before the next site, 19.2 miles on, is 83 %; before the one after that it is 90 %.",
      "Taken together the readings speak for rising with 87 %, warm but steady 8 %, wandering 3 %, healthy 2 %.",
      "If it rises, it reaches 170 °F in 11.2 miles, about 14 minutes; four times in five between 8.4 miles and 18 miles.",
      "By the rules a warning (warn) is given from a chance of 22 % before the next site or 36 % before the one after; the gap ahead counts 1.12 times.",
      "The last set-out place in time is spur siding, 4 miles on.",
      "Doubted: the train ran slowly over the site, which can change a reading.",
    ]);
  });

  it("of a reading at or over the limit tell no chance of reaching it; of a limit by the axle's other end they do", () => {
    const over = decide(look({ riseF: 176.3, excessF: 154, outlook: outlook({ chanceNext: 0.7 }) }), null, RULES);
    expect(over.level).toBe("limit");
    expect(over.reasons.join(" ")).not.toMatch(/chance of reaching/i);
    const axle = decide(look({ riseF: 147, excessF: 120, mateRiseF: 17, outlook: outlook({ chanceNext: 0.7 }) }), null, RULES);
    expect(axle.level).toBe("limit");
    expect(axle.reasons.join(" ")).toMatch(/The chance of reaching 170 °F/);
  });

  it("say when a low reading counts little, when heating is faster than any published, and when no rule set was in force", () => {
    const odd = look({
      outlook: outlook({ chanceNext: 0.9, used: ["used", "low-outlier"], fasterThanPublished: true }),
      speedMph: Number.NaN,
      rulesInForce: false,
    });
    const words = decide(odd, null, RULES).reasons.join(" ");
    expect(words).toContain("1 low reading among them counts little");
    expect(words).toContain("faster than the fastest published heating of a bearing (12.8 °F a minute)");
    expect(words).toContain("at an assumed 40 mph");
    expect(words).toContain("No rule set was in force yet");
  });
});

describe("numbers in words", () => {
  it("never show a reading that is under a limit as the limit", () => {
    expect(readingWords(169.99)).toBe("169.9 °F");
    expect(readingWords(Math.fround(103.7))).toBe("103.7 °F");
    fc.assert(
      fc.property(fc.integer({ min: -5000, max: 100_000 }), (hundredths) => {
        const shown = Number(readingWords(Math.fround(hundredths / 100)).split(" ")[0]);
        expect(shown * 100).toBeLessThanOrEqual(hundredths + 1e-6);
        expect(hundredths - shown * 100).toBeLessThan(10);
      }),
      RUNS,
    );
  });

  it("carry their units and are never certain", () => {
    expect([degrees(5.97), degrees(78.4), degrees(-0.01)]).toEqual(["6 °F", "78 °F", "0 °F"]);
    expect([milesWords(1), milesWords(19.2), milesWords(0.02)]).toEqual(["1 mile", "19.2 miles", "0 miles"]);
    expect([minutesWords(1), minutesWords(14.4), minutesWords(80), minutesWords(120)]).toEqual([
      "1 minute",
      "14 minutes",
      "1 hour 20 minutes",
      "2 hours",
    ]);
    expect([percent(0), percent(0.5), percent(1)]).toEqual(["under 1 %", "50 %", "over 99 %"]);
    expect(sentence(" stop  the train ")).toBe("Stop the train.");
  });
});
