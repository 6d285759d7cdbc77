import { describe, expect, it } from "vitest";
import type { Equipment, FunctionalTest } from "../../src/feed/record.ts";
import type { Pass } from "../../src/pass/pass.ts";
import type { FunctionalTestRecord } from "../../src/site/functional-test.ts";
import { TEST_SETTLE_MS } from "../../src/site/functional-tests.ts";
import { at, equipment, iso, kinds, MINUTE_MS, pass, run, train, type Watching, watching } from "./watching.ts";

const SITE = "birch-29";
/** Device -> what proves it. */
const ANSWERS: Record<string, Partial<Equipment>> = {
  "1/left": { kind: "hot-bearing", side: "left", value: 210 },
  "1/right": { kind: "hot-bearing", side: "right", value: 205 },
  "1/wheel-left": { kind: "hot-wheel", side: "left", value: 640, announced: false },
  "1/wheel-right": { kind: "hot-wheel", side: "right", value: 655, announced: false },
  dragging: { kind: "dragging", side: null, value: null },
  "high-left": { kind: "high", side: "left", value: null },
  "high-right": { kind: "high", side: "right", value: null },
  "wide-left": { kind: "wide", side: "left", value: null },
  "wide-right": { kind: "wide", side: "right", value: null },
};
const TRAIN = ["transducer-1", "transducer-2", "axles-8", "direction-rising"];
const ALL = [...Object.keys(ANSWERS), ...TRAIN, "announcement"];

function phase(minute: number, what: "begun" | "ended", over: Partial<FunctionalTest> = {}): FunctionalTest {
  return { type: "functional-test", site: SITE, track: "1", time: iso(minute), phase: what, tester: "maintainer", expects: ALL, ...over };
}

function answer(minute: number, over: Partial<Equipment>): Equipment {
  return equipment(SITE, minute, { time: iso(minute), pass: "test", axle: 1, announced: true, ...over });
}

/** A train of eight axles made by hand over the transducers. */
function simulatedTrain(minute: number, over: Partial<Pass> = {}): Pass {
  return pass(SITE, minute, { axles: 8, bearingRiseF: [new Float32Array(8), new Float32Array(8)], ...over });
}

function passes(watched: Watching, one: Pass): void {
  const why = watched.watch.leftOut(one);
  if (why !== null) watched.watch.aside(one, why);
}

/** A whole test from minute 100 on, without the devices named; `more` happens before its end. */
function tested(
  without: readonly string[] = [],
  more: (watched: Watching) => void = () => {},
  change: Record<string, unknown> = {},
): { watched: Watching; record: FunctionalTestRecord } {
  const watched = watching(change);
  for (const site of ["alder-14", SITE, "cedar-41"]) watched.beat(site, 95, { ambient: 54 });
  watched.report(phase(100, "begun"));
  let minute = 101;
  for (const [device, over] of Object.entries(ANSWERS)) if (!without.includes(device)) watched.report(answer(minute++, over));
  if (!without.includes("simulated-train")) passes(watched, simulatedTrain(115));
  more(watched);
  watched.report(phase(125, "ended"));
  watched.watch.tick(at(125) + TEST_SETTLE_MS);
  expect(watched.tests.length).toBe(1);
  return { watched, record: watched.tests[0]! };
}

const verdictOf = (record: FunctionalTestRecord, device: string) => record.devices.find((one) => one.device === device)?.verdict;
const checkOf = (record: FunctionalTestRecord, check: string) => record.checks.find((one) => one.check === check)?.verdict;

describe("functional tests", () => {
  it("a test in which every device answers is passed, and says how each was found and left", () => {
    const { record, watched } = tested();
    expect(record.result).toBe("passed");
    expect(record.devices.map((one) => [one.device, one.verdict])).toEqual(
      [...Object.keys(ANSWERS), "transducer-1", "transducer-2"].map((device) => [device, "answered"]),
    );
    expect(record.checks.map((one) => [one.check, one.verdict])).toEqual([
      ["axle-count", "right"],
      ["direction", "right"],
      ["ambient", "right"],
      ["announcement", "right"],
    ]);
    expect(record.devices[0]?.asLeft).toEqual({ time: iso(101), riseF: 210, announced: true, verdict: "answered" });
    expect(record).toMatchObject({ site: SITE, track: "1", begunAt: iso(100), endedAt: iso(125), closed: "ended", trains: [] });
    expect(kinds(watched.out)).toEqual([]);
  });

  for (const device of Object.keys(ANSWERS)) {
    it(`a test in which ${device} does not answer is failed for it alone`, () => {
      const { record, watched } = tested([device]);
      expect(record.result).toBe("failed");
      expect(record.devices.filter((one) => one.verdict !== "answered").map((one) => one.device)).toEqual([device]);
      expect(verdictOf(record, device)).toBe("missing");
      expect(kinds(watched.out)).toEqual([`${SITE}/1 test-failed raised`]);
    });
  }

  it("without a simulated train neither transducer, nor count, nor direction is proved", () => {
    const { record } = tested(["simulated-train"]);
    expect([verdictOf(record, "transducer-1"), verdictOf(record, "transducer-2")]).toEqual(["missing", "missing"]);
    expect([checkOf(record, "axle-count"), checkOf(record, "direction")]).toEqual(["wrong", "wrong"]);
  });

  it("axles counted without a speed prove the first transducer only", () => {
    const { record } = tested(["simulated-train"], (watched) =>
      passes(watched, simulatedTrain(115, { speedMph: new Float32Array(8).fill(Number.NaN) })),
    );
    expect([verdictOf(record, "transducer-1"), verdictOf(record, "transducer-2")]).toEqual(["answered", "missing"]);
  });

  it("a simulated train that runs the other way shows transducers connected the wrong way round", () => {
    const { record } = tested(["simulated-train"], (watched) => passes(watched, simulatedTrain(115, { direction: "falling" })));
    expect(checkOf(record, "direction")).toBe("wrong");
    expect(record.result).toBe("failed");
  });

  it("a simulated train of another count is a wrong count", () => {
    const { record } = tested(["simulated-train"], (watched) => passes(watched, simulatedTrain(115, { axles: 7, axlesSaid: 7 })));
    expect(checkOf(record, "axle-count")).toBe("wrong");
  });

  it.each(["1/left", "high-left", "wide-left", "1/wheel-left"])("%s answering on the other side is on the wrong side", (device) => {
    const right = device.replace("left", "right");
    const { record } = tested([device, right], (watched) => {
      watched.report(answer(116, { ...ANSWERS[device]!, side: "right" }));
      watched.report(answer(118, { ...ANSWERS[device]!, side: "right" }));
    });
    expect(verdictOf(record, device)).toBe("wrong-side");
    expect(verdictOf(record, right)).toBe("answered");
  });

  it("sides that answer in another order than listed are said, for they may be exchanged", () => {
    const { record } = tested(["1/left", "1/right"], (watched) => {
      watched.report(answer(116, ANSWERS["1/right"]!));
      watched.report(answer(118, ANSWERS["1/left"]!));
    });
    expect(record.result).toBe("passed");
    expect(record.devices.find((one) => one.device === "1/left")?.words).toContain("exchanged");
  });

  it("a scanner that was not heated above the set rise has not been proved; heated again it is, and both are on the record", () => {
    const low = { ...ANSWERS["1/left"]!, value: 60 };
    expect(verdictOf(tested(["1/left"], (watched) => watched.report(answer(116, low))).record, "1/left")).toBe("too-low");
    const { record } = tested(["1/left"], (watched) => {
      watched.report(answer(116, low));
      watched.report(answer(118, ANSWERS["1/left"]!));
    });
    const left = record.devices.find((one) => one.device === "1/left");
    expect([left?.verdict, left?.asFound?.verdict, left?.asLeft?.verdict]).toEqual(["answered", "too-low", "answered"]);
  });

  it("an alarm that the crew was not told of fails the test", () => {
    const { record } = tested(["dragging"], (watched) => watched.report(answer(116, { ...ANSWERS["dragging"]!, announced: false })));
    expect(verdictOf(record, "dragging")).toBe("not-announced");
    expect(checkOf(record, "announcement")).toBe("wrong");
  });

  it("an ambient reading far from the neighbours' is wrong", () => {
    const { record } = tested([], (watched) => watched.beat(SITE, 118, { ambient: 90 }));
    expect(checkOf(record, "ambient")).toBe("wrong");
    expect(record.result).toBe("failed");
  });

  it("what arrives during a test is no train and no alarm of one", () => {
    const { watched } = tested();
    expect(watched.watch.leftOut(simulatedTrain(110))).toBe("functional-test");
    expect(watched.watch.leftOut(simulatedTrain(99))).toBeNull();
    expect(watched.watch.leftOut(simulatedTrain(130))).toBeNull();
    expect(watched.equipment).toEqual([]);
  });

  it("a train that goes through during a test is a train: followed, told in the record, and no answer of any device", () => {
    const { record, watched } = tested(["1/left"], (one) => {
      one.report(equipment(SITE, 108, { time: iso(109), side: "left", axle: 200, value: 230 }));
      const journey = train(90, { "alder-14": {}, [SITE]: {}, "cedar-41": {} });
      expect(one.watch.leftOut(journey.legs[1]!.pass)).toBeNull();
      run(one.watch, journey);
    });
    expect(record.trains).toEqual([`${SITE}/1/108@${iso(108).replace(/[-:.]/g, "")}`]);
    expect(verdictOf(record, "1/left")).toBe("missing");
    expect(record.words).toContain("A train went through");
    expect(watched.equipment.map((one) => [one.kind, one.axle])).toEqual([["hot-bearing", 200]]);
  });

  it("a test without an end is closed as left open, and its passes are trains again from then on", () => {
    const watched = watching({ tests: { leftOpenMinutes: 60 } });
    watched.report(phase(100, "begun"));
    watched.report(answer(101, ANSWERS["1/left"]!));
    watched.watch.tick(at(159));
    expect(watched.tests).toEqual([]);
    watched.watch.tick(at(161));
    expect(watched.tests.map((one) => [one.closed, one.result, one.endedAt])).toEqual([["left-open", "failed", null]]);
    expect(kinds(watched.out)).toEqual([`${SITE}/1 test-open raised`]);
    expect(watched.watch.leftOut(simulatedTrain(150))).toBe("functional-test");
    expect(watched.watch.leftOut(simulatedTrain(170))).toBeNull();
    watched.report(phase(400, "ended"));
    expect(kinds(watched.out)).toEqual([`${SITE}/1 test-open raised`, `${SITE}/1 test-open cleared`]);
  });

  it("the same begin twice is one test; a later begin closes the first and opens another", () => {
    const watched = watching();
    watched.report(phase(100, "begun"));
    watched.report(phase(100, "begun"));
    watched.report(answer(101, ANSWERS["1/left"]!));
    watched.report(phase(110, "begun", { expects: ["1/right"] }));
    watched.report(answer(111, ANSWERS["1/right"]!));
    watched.report(phase(120, "ended"));
    watched.watch.tick(at(130));
    expect(watched.tests.map((one) => [one.closed, one.begunAt, one.result])).toEqual([
      ["begun-again", iso(100), "failed"],
      ["ended", iso(110), "passed"],
    ]);
  });

  it("an end without a begin closes nothing", () => {
    const watched = watching();
    watched.report(phase(120, "ended"));
    watched.watch.tick(at(130));
    expect(watched.tests).toEqual([]);
  });

  it("passes of a test that come before its begin is known are its all the same", () => {
    const watched = watching();
    const one = simulatedTrain(104);
    expect(watched.watch.leftOut(one)).toBeNull();
    expect(watched.report(phase(100, "begun"), at(106))).toBe(true);
    expect(watched.watch.leftOut(one)).toBe("functional-test");
  });

  it("without a list of devices everything that every site has is expected", () => {
    const watched = watching();
    watched.report(phase(100, "begun", { expects: undefined }));
    watched.report(phase(110, "ended"));
    watched.watch.tick(at(130));
    expect(watched.tests[0]?.devices.map((one) => one.device)).toEqual([
      "1/left",
      "1/right",
      "1/wheel-left",
      "1/wheel-right",
      "dragging",
      "transducer-1",
      "transducer-2",
    ]);
  });

  it("readings in other units are held against the set rise in °F above ambient", () => {
    const watched = watching();
    watched.watch.parts.context.railroad.sites.get(SITE)!.units = { temperature: "C", reading: "absolute", gap: "mm", speed: "km/h" };
    const other = watching({}, watched.watch.parts.context.railroad);
    other.beat(SITE, 95, { ambient: 10 });
    other.report(phase(100, "begun", { expects: ["1/left", "1/right"] }));
    // 10 °C ambient: 60 °C is 90 °F above it, 70 °C is 108 °F.
    other.report(answer(101, { ...ANSWERS["1/left"]!, value: 60 }));
    other.report(answer(102, { ...ANSWERS["1/right"]!, value: 70 }));
    other.report(phase(110, "ended"));
    other.watch.tick(at(130));
    expect([verdictOf(other.tests[0]!, "1/left"), verdictOf(other.tests[0]!, "1/right")]).toEqual(["too-low", "answered"]);
  });
});

describe("when tests are due", () => {
  const DAY = 24 * 60;

  it("a test is due some days before the calendar's end, then overdue, then neither once it was passed", () => {
    const { watch, out, report } = watching({ tests: { everyDays: 10, dueSoonDays: 2 } });
    for (let day = 0; day <= 11; day++) watch.tick(at(day * DAY));
    const of = (track: string) => kinds(out).filter((one) => one.startsWith(`${SITE}/${track} `));
    expect(of("1")).toEqual([`${SITE}/1 test-due raised`, `${SITE}/1 test-due cleared`, `${SITE}/1 test-overdue raised`]);
    report(phase(11 * DAY + 10, "begun", { expects: ["dragging"] }));
    report(answer(11 * DAY + 11, ANSWERS["dragging"]!));
    report(phase(11 * DAY + 12, "ended"));
    watch.tick(at(11 * DAY + 20));
    expect(of("1").at(-1)).toBe(`${SITE}/1 test-overdue cleared`);
    watch.tick(at(12 * DAY));
    expect(of("1").length).toBe(4);
    expect(of("2").at(-1)).toBe(`${SITE}/2 test-overdue raised`);
  });

  it("a test that failed does not count", () => {
    const { watch, out, report } = watching({ tests: { everyDays: 10 } });
    watch.tick(at(0));
    report(phase(10, "begun", { expects: ["dragging"] }));
    report(phase(12, "ended"));
    watch.tick(at(20));
    watch.tick(at(11 * DAY));
    expect(kinds(out)).toContain(`${SITE}/1 test-failed raised`);
    expect(kinds(out)).toContain(`${SITE}/1 test-overdue raised`);
  });

  it("tests known from before are part of what is remembered", () => {
    const rules = { tests: { everyDays: 10, dueSoonDays: 2 } };
    const first = watching(rules);
    first.watch.tick(at(0) - 20 * DAY * MINUTE_MS);
    first.report(phase(10, "begun", { expects: ["dragging"] }));
    first.report(answer(11, ANSWERS["dragging"]!));
    first.report(phase(20, "ended"));
    first.watch.tick(at(25));
    const { watch, out } = watching(rules);
    watch.restore(first.watch.state());
    watch.tick(at(5 * DAY));
    expect(kinds(out).filter((one) => one.startsWith(`${SITE}/1 test-overdue raised`))).toEqual([]);
    watch.tick(at(11 * DAY));
    expect(kinds(out)).toContain(`${SITE}/1 test-overdue raised`);
  });

  it("a direction that turned round asks for a test, and only a later one that is passed is enough", () => {
    const { watch, out, report } = watching();
    const wrong = { pass: { direction: "falling" as const }, direction: "rising" as const, directionDoubted: true };
    run(watch, train(0, { "alder-14": {}, [SITE]: wrong, "cedar-41": {} }));
    expect(kinds(out)).toContain(`${SITE}/1 test-due raised`);
    report(phase(100, "begun", { expects: ["dragging"] }));
    report(answer(101, ANSWERS["dragging"]!));
    report(phase(110, "ended"));
    watch.tick(at(115));
    expect(kinds(out).at(-1)).toBe(`${SITE}/1 test-due cleared`);
  });
});
