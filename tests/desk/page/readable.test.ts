import { describe, expect, test } from "vitest";
import { readable } from "../../../src/desk/page/readable.ts";
import { alarmWords, flagWords } from "../../../src/desk/page/trade-words.ts";
import { CONDITION_KINDS } from "../../../src/site/condition.ts";
import { conditionWords, deviceWords } from "../../../src/site/condition-words.ts";

const NOW_MS = Date.parse("2026-03-04T13:44:00Z");
const OPTIONS = {
  zone: "America/Chicago",
  nowMs: NOW_MS,
  names: new Map([
    ["garrow-160", "Garrow"],
    ["orrin-128", "Orrin"],
    ["alder", "Alder"],
  ]),
};

describe("prose of the records, for people", () => {
  test("names sites, and tells times by the railroad's clocks, with the day where it is another one", () => {
    expect(readable("garrow-160 has sent nothing since 2026-03-04T10:55:28.405Z; it used to every 5 minutes.", OPTIONS)).toBe(
      "Garrow has sent nothing since 04:55 (10:55 UTC); it used to every 5 minutes.",
    );
    expect(readable("shelved until 2026-03-05T02:00:00Z", OPTIONS)).toBe("shelved until 20:00 (02:00 UTC)");
    expect(readable("Not heard at orrin-128 since 2026-03-02T12:00Z.", OPTIONS)).toBe(
      "Not heard at Orrin since 2026-03-02 06:00 (12:00 UTC).",
    );
  });

  test("changes no figure and no word of an advice where a site is called like one", () => {
    const names = new Map([
      ["12", "Marrow"],
      ["yard", "Orrin"],
    ]);
    const advice = "Set out at the yard, 12 miles on, car 12.";
    expect(readable(advice, { ...OPTIONS, names })).toBe(advice);
  });

  test("leaves alone what only looks like an id", () => {
    expect(readable("orrin-1280, alder-side, scanner 1/left and 2026-03-04", OPTIONS)).toBe(
      "orrin-1280, alder-side, scanner 1/left and 2026-03-04",
    );
  });
});

describe("codes in words", () => {
  test("every kind of condition has words of its own, none with a code's dash", () => {
    const words = CONDITION_KINDS.map(conditionWords);
    expect(new Set(words).size).toBe(CONDITION_KINDS.length);
    for (const one of words) expect(one).not.toMatch(/^(?!self-test)[a-z]+-[a-z]/);
    expect(conditionWords("some-new-kind")).toBe("some new kind");
    expect(alarmWords("returned-unacknowledged")).toBe("over, not acknowledged");
    expect(flagWords("count-mismatch")).toBe("the site counted another number of axles than it sent");
  });

  test("devices by what they are", () => {
    expect(deviceWords("")).toBe("");
    expect(deviceWords("1")).toBe("track 1");
    expect(deviceWords("1/right")).toBe("track 1, right bearing scanner");
    expect(deviceWords("2/wheel-left")).toBe("track 2, left wheel scanner");
    expect(deviceWords("transducer-2")).toBe("wheel transducer 2");
    expect(deviceWords("high-left")).toBe("high detector, left");
    expect(deviceWords("left-wide")).toBe("wide detector, left");
    expect(deviceWords("dragging")).toBe("dragging detector");
    expect(deviceWords("axles-8")).toBe("axle count (8)");
    expect(deviceWords("announcement")).toBe("announcement");
    expect(deviceWords("main")).toBe("track main");
  });
});
