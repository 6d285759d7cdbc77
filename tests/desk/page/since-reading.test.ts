import { describe, expect, test } from "vitest";
import type { Row } from "../../../src/desk/board/row.ts";
import { WarningCase } from "../../../src/desk/board/warning-case.ts";
import { adviceOf, crossingWords, leftWords } from "../../../src/desk/page/left-words.ts";
import { OrderedRows } from "../../../src/desk/page/ordered-rows.ts";
import { sinceReading } from "../../../src/desk/page/since-reading.ts";
import { perMile, temperaturesIn } from "../../../src/desk/page/units.ts";
import { BOOK } from "../railroad.ts";
import { MINUTE_MS, START_MS, warning } from "../samples.ts";

const PLACE = "car 47 from the head, first axle of its rear truck, right side in the direction of travel (axle 187)";

function rowOf(over: Parameters<typeof warning>[0] = {}, changes: Partial<Row> = {}): Row {
  return { ...new WarningCase(warning(over), START_MS, BOOK).asRow(), ...changes };
}

/** The crossing begins 8 miles on; a train needs 2 to stop. */
const IN_TIME_MILES = 6;

/** At 60 mph a mile a minute: a set-out place 4 miles on and one 12 miles on, a site at 9. */
function seen(changes: Partial<Row> = {}, heard = false, mph: number | null = 60) {
  const at = (miles: number) => (mph === null ? null : START_MS + miles * MINUTE_MS);
  const place = (name: string, miles: number, chosen: boolean) => ({
    name,
    milepost: 40 + miles,
    miles,
    carLengths: 20,
    chosen,
    inTime: miles <= IN_TIME_MILES,
    onEveryWay: true,
    passed: heard && miles <= 9,
    arrivesMs: at(miles),
  });
  return {
    row: rowOf({}, changes),
    mph,
    setOuts: [place("Coldrill North", 4, true), place("Dunmere Yard", 12, false)],
    sitesAhead: [{ site: "dunmere-53", name: "Dunmere", miles: 9, arrivesMs: at(9), heard }],
  };
}

describe("an advice some time after its reading", () => {
  test("holds while the set-out place is still ahead", () => {
    expect(sinceReading(seen(), START_MS + 3 * MINUTE_MS)).toBeNull();
  });

  test("names the places that the train must have passed by now, and offers none beyond the crossing", () => {
    const since = sinceReading(seen(), START_MS + 6 * MINUTE_MS);
    expect(since).toMatchObject({ isSure: false, heardAt: null, isUnknown: false });
    expect(since?.behind.map((one) => one.name)).toEqual(["Coldrill North"]);
    expect(since?.next).toBeNull();
  });

  test("names the next place where that one is still in time", () => {
    const one = seen();
    const between = { ...one.setOuts[0]!, name: "Garrow Siding", miles: 5.5, chosen: false, arrivesMs: START_MS + 5.5 * MINUTE_MS };
    const since = sinceReading({ ...one, setOuts: [one.setOuts[0]!, between, one.setOuts[1]!] }, START_MS + 5 * MINUTE_MS);
    expect(since?.next?.name).toBe("Garrow Siding");
  });

  test("names no place that lies on one of the ways ahead only, for nobody here knows which of them the train takes", () => {
    const one = seen();
    const between = { ...one.setOuts[0]!, name: "Garrow Siding", miles: 5.5, chosen: false, arrivesMs: START_MS + 5.5 * MINUTE_MS };
    const since = sinceReading({ ...one, setOuts: [one.setOuts[0]!, { ...between, onEveryWay: false }] }, START_MS + 5 * MINUTE_MS);
    expect(since?.next).toBeNull();
  });

  test("is sure of it where the train was heard farther on, whatever its speed", () => {
    expect(sinceReading(seen({}, true, null), START_MS + MINUTE_MS)).toMatchObject({ isSure: true, heardAt: "Dunmere" });
  });

  test("doubts itself where the speed is not known", () => {
    expect(sinceReading(seen({}, false, null), START_MS + 5 * MINUTE_MS)).toBeNull();
    expect(sinceReading(seen({}, false, null), START_MS + 20 * MINUTE_MS)).toMatchObject({ isUnknown: true, behind: [] });
  });

  test("does not count on a train that was stopped, nor on what is out of service", () => {
    const stopped = { done: { what: "train-stopped", by: "Ada", timeMs: START_MS + MINUTE_MS } } as const;
    expect(sinceReading(seen(stopped), START_MS + 60 * MINUTE_MS)).toBeNull();
    expect(sinceReading(seen({ state: "out-of-service" }), START_MS + 60 * MINUTE_MS)).toBeNull();
  });
});

describe("what is left to act on", () => {
  const advice = `Stop train Q118. Inspect ${PLACE}. It reads 141.3 °F above ambient at Coldrill, far hotter than the other end of its axle. First set-out place ahead: none is known.`;

  test("at the limit is what the advice says first, and why", () => {
    const row = rowOf({ level: "limit", place: PLACE, advice });
    expect(leftWords(row, START_MS)).toBe("Stop train Q118.");
    expect(adviceOf(row)[1]).toBe("Inspect car 47.");
    expect(crossingWords(row, START_MS)).toBe(
      "Inspect car 47. It reads 141.3 °F above ambient at Coldrill, far hotter than the other end of its axle.",
    );
    // A train that was stopped is not heard any more: the advice stands.
    expect(leftWords(row, START_MS + 20 * 60 * MINUTE_MS)).toBe("Stop train Q118.");
  });

  test("of a car that is no longer in its train is to find it, not to stop the train", () => {
    const row = rowOf({
      level: "limit",
      place: PLACE,
      advice: `Car 47 from the head is no longer in train Q118 at Dunmere: it was set out, or its axles were not counted. Find out where it is.`,
    });
    expect(leftWords(row, START_MS)).toMatch(/^Car 47 from the head is no longer in train Q118/);
    expect(crossingWords(row, START_MS)).toBe("Find out where it is.");
  });

  test("ends where the range does, and names no end so far on that other sites speak before", () => {
    const range = (low: number, high: number) => {
      const crossing = { miles: (low + high) / 2, low, high, minutes: null, milepost: 57, line: "Alder Line", chance: 0.3 };
      return crossingWords(rowOf({ crossing, slopeFPerMinute: null }), START_MS);
    };
    expect(range(8, 24)).toBe("limit could be reached 8.0 mi to 24 mi on");
    expect(range(36, 100)).toBe("limit could be reached 36 mi to 100 mi on");
    expect(range(36, 400)).toBe("limit could be reached 36 mi to beyond 100 mi on");
    expect(range(140, 400)).toBe("limit could be reached beyond 100 mi on");
    expect(range(0, 24)).toBe("limit could be reached at once, or up to 24 mi on");
    expect(range(0, 400)).toBe("limit could be reached at once, or up to beyond 100 mi on");
  });

  test("says how sure that is, where it was reckoned and the limit is not reached", () => {
    expect(rowOf().chanceNextSite).toBe(0.3);
    expect(rowOf({ level: "limit" }).chanceNextSite).toBeNull();
    const none = { rising: 0, steady: 0, wandering: 0, healthy: 0, beforeNextSite: 0, beforeNextButOne: 0 };
    expect(rowOf({ chances: none }).chanceNextSite).toBeNull();
  });

  test("is nothing once the vehicle is out of service", () => {
    expect(leftWords(rowOf({ level: "limit" }, { state: "out-of-service" }), START_MS)).toBe("Out of service until returned");
  });
});

describe("one bearing in two corridors", () => {
  test("points from each of its open warnings to the others, the newest first", () => {
    const rows = new OrderedRows();
    const alder = rowOf({ id: "W-1", corridor: "alder" }, { same: ["W-2", "W-3", "W-not-here"] });
    const kestrel = rowOf({ id: "W-2", corridor: "kestrel" }, { same: ["W-1"], timeMs: START_MS + MINUTE_MS });
    const marrow = rowOf({ id: "W-3", corridor: "marrow" }, { same: ["W-1"], timeMs: START_MS + 2 * MINUTE_MS });
    for (const row of [alder, kestrel, marrow]) rows.put(row);
    expect(rows.elsewhere(alder).map((one) => one.id)).toEqual(["W-3", "W-2"]);
    rows.put({ ...marrow, version: 2, state: "cleared" });
    expect(rows.elsewhere(alder).map((one) => one.id)).toEqual(["W-2"]);
  });
});

test("a slope that rounds to nothing has no sign", () => {
  expect(perMile(0.04, "F")).toBe("0.0 °F/mi");
  expect(perMile(0.06, "F")).toBe("+0.1 °F/mi");
  expect(perMile(-0.04, "F")).toBe("0.0 °F/mi");
});

test("the prose about a bearing is in the unit that a person chose, differences without the 32", () => {
  const prose = "It reads 170 °F above ambient, −9 °F over its side; it rises by 5.4 °F a mile.";
  expect(temperaturesIn(prose, "F")).toBe(prose);
  // 170 °F of difference are 94.44 °C, cut: what is under a limit must never read as the limit.
  expect(temperaturesIn(prose, "C")).toBe("It reads 94.4 °C above ambient, −5.0 °C over its side; it rises by 3.0 °C a mile.");
});

test("both ends of a range are converted", () => {
  expect(temperaturesIn("Between 90-180 °F, or 36 to 54 °F over.", "C")).toBe("Between 50.0-100.0 °C, or 20.0 to 30.0 °C over.");
});

describe("a train that somebody stopped", () => {
  const stopped = { done: { what: "train-stopped" as const, by: "Ada", timeMs: START_MS + MINUTE_MS } };

  test("is not reckoned on: no miles left, no place passed", () => {
    const words = leftWords(rowOf({}, stopped), START_MS + 40 * MINUTE_MS);
    expect(words).toMatch(/^Stopped: inspect, or set out at Coldrill North, 4/);
    expect(words).not.toMatch(/left|ago/);
    expect(leftWords(rowOf({}, stopped), START_MS + 400 * MINUTE_MS)).toBe(words);
    expect(crossingWords(rowOf({}, stopped), START_MS + 40 * MINUTE_MS)).not.toMatch(/past the low end|from \d/);
  });

  test("and one whose speed nobody knows is said to be somewhere", () => {
    const row = rowOf({}, { mph: null });
    expect(leftWords(row, START_MS + 5 * MINUTE_MS)).not.toContain("not known");
    expect(leftWords(row, START_MS + 20 * MINUTE_MS)).toContain("where the train is by now is not known");
  });
});
