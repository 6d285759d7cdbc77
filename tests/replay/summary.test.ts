import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { DayAccount } from "../../src/replay/account.ts";
import { CAUTION, summaryOf } from "../../src/replay/summary.ts";
import { summaryText } from "../../src/replay/summary-text.ts";
import { chanceWords, countOf, countWords, figure, printable } from "../../src/replay/words.ts";
import { journeyOf, MIDNIGHT, mainWay, replayJourney, sampleDay, sampleRailroad, warningAt } from "./sample.ts";

const railroad = sampleRailroad();

describe("the summary", () => {
  const summary = summaryOf(sampleDay().account.close());

  test("the same day gives the same bytes", () => {
    expect(JSON.stringify(summaryOf(sampleDay().account.close()))).toBe(JSON.stringify(summary));
  });

  test("it survives JSON without a change", () => {
    expect(JSON.parse(JSON.stringify(summary))).toEqual(summary);
  });

  test("warnings stand in order of time and are counted by their highest level, withdrawn ones not", () => {
    expect(summary.warnings.byLevel).toEqual({ limit: 2, warn: 2, watch: 3 });
    expect(summary.warnings.byEnding.withdrawn).toBe(1);
    const times = summary.warnings.list.map((warning) => warning.firstLimit ?? warning.firstWarn ?? warning.firstWatch ?? "");
    expect(times).toEqual([...times].sort());
  });

  test("it names the limit readings without an earlier warn and the warns that came to nothing", () => {
    expect(summary.warnings.limitWithoutEarlierWarn).toEqual(["W-Q124"]);
    expect(summary.warnings.cameToNothing).toEqual(["W-X301"]);
  });

  test("a limit that a late pass took back is counted nowhere but among the withdrawn", () => {
    const account = new DayAccount(railroad);
    const journey = journeyOf({ train: "T", sites: mainWay(2), direction: "rising", startMs: MIDNIGHT, rises: [30, 180] }, 1);
    replayJourney(account, journey, [
      warningAt(journey, 1, "limit", { id: "W-a" }),
      warningAt(journey, 1, "limit", { id: "W-a", version: 2, state: "withdrawn" }),
    ]);
    const taken = summaryOf(account.close());
    expect(taken.warnings).toMatchObject({ byLevel: { limit: 0 }, limitWithoutEarlierWarn: [], byEnding: { withdrawn: 1 } });
    expect(summaryText(taken)).toContain("1 more withdrawn");
    expect(summaryText(summaryOf(new DayAccount(railroad).close()))).not.toContain("withdrawn");
  });

  test("a bearing under its limit that is at the limit all the same is said to have reached the other one", () => {
    const textOf = (riseF: number) => {
      const account = new DayAccount(railroad);
      const journey = journeyOf({ train: "T", sites: mainWay(3), direction: "rising", startMs: MIDNIGHT, rises: [30, riseF, null] }, 1);
      replayJourney(account, journey, [
        warningAt(journey, 1, "limit"),
        warningAt(journey, 2, "limit", { version: 2, site: "coldrill-44" }),
      ]);
      return summaryText(summaryOf(account.close()));
    };
    expect(textOf(150.5)).toContain("rise 150.5 °F, limit 170 (reached is the limit between the two ends of its axle)");
    expect(textOf(170)).toContain("rise 170.0 °F, limit 170, ");
    // A reading that is missing is no low reading.
    expect(textOf(170)).toContain("; not measured at coldrill-44");
    expect(textOf(170)).not.toContain("–");
  });

  test("every time on the terminal is one of UTC, written alike", () => {
    const text = summaryText(summary);
    expect(text).toContain("Site conditions in order of time (UTC)");
    expect(text).toMatch(/\n {2}03-04 \d\d:\d\d {2}drift/);
    expect(text).not.toMatch(/03-04T\d\d:\d\d {2}/);
  });

  test("an empty day is said to be empty", () => {
    const empty = summaryOf(new DayAccount(railroad).close());
    expect(empty.span).toBeNull();
    expect(summaryText(empty)).toContain("no pass");
  });

  test("on a terminal: the accounts, each warn and limit with its advice, and the caution", () => {
    const text = summaryText(summary);
    expect(text).toContain("12,007 read: 11,980 used, 8 late, 12 repeated, 7 rejected");
    expect(text).toMatch(/LIMIT {2}03-04 11:03:36 {2}train Q118 {2}at hollin-178 track 1/);
    expect(text).toContain("set out at Linnet siding, milepost 64.7, 11.6 miles on");
    expect(text).toContain("47.1 miles after the first warn");
    expect(text.replace(/\s+/g, " ")).toContain(CAUTION);
    for (const line of text.split("\n")) expect(line.length).toBeLessThanOrEqual(120);
  });

  test("records that do not add up are not passed over in silence", () => {
    const account = new DayAccount(railroad);
    account.addRead(1);
    expect(summaryText(summaryOf(account.close()))).toContain("DO NOT ADD UP");
  });

  test("whatever an id holds, no control character reaches the terminal", () => {
    const journey = journeyOf({ train: "T", sites: mainWay(2), direction: "rising", startMs: MIDNIGHT, rises: [30, 120] }, 1);
    fc.assert(
      fc.property(fc.string({ unit: "binary" }), (hostile) => {
        const account = new DayAccount(railroad);
        account.addWarning(
          warningAt(journey, 1, "warn", { train: hostile, place: hostile, advice: hostile, site: hostile, track: hostile }),
        );
        account.addRules(hostile);
        const text = summaryText(summaryOf(account.close()));
        expect(text.replaceAll("\n", "")).not.toMatch(/[\p{Cc}\p{Cs}\u202a-\u202e\u2066-\u2069]/u);
      }),
      { seed: 2 },
    );
  });
});

describe("figures for people", () => {
  test("counts have their thousands apart and nouns their number", () => {
    expect([countWords(1), countWords(1234), countWords(57_000_000)]).toEqual(["1", "1,234", "57,000,000"]);
    expect([countOf(1, "pass"), countOf(2, "pass"), countOf(0, "warn")]).toEqual(["1 pass", "2 passes", "0 warns"]);
  });

  test("what is not known is a dash, and a small negative is no minus nought", () => {
    expect([figure(null, 1), figure(Number.NaN, 1), figure(-0.04, 1), figure(-0.06, 1)]).toEqual(["–", "–", "0.0", "−0.1"]);
  });

  test("a chance that is not certain is not called so", () => {
    expect([0, 0.004, 0.5, 0.996, 1].map(chanceWords).map((words) => words.replace("\u00a0", " "))).toEqual([
      "0 %",
      "under 1 %",
      "50 %",
      "over 99 %",
      "100 %",
    ]);
  });

  test("control and reordering characters are shown, not obeyed", () => {
    expect(printable("a\u001b[2Jb\u202ec")).toBe("a\\u{1b}[2Jb\\u{202e}c");
  });
});
