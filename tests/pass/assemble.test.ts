import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { AxleReading } from "../../src/feed/record.ts";
import { OPEN_PASSES, QUIET_MS, SETTLE_MS } from "../../src/pass/assemble.ts";
import type { Pass } from "../../src/pass/pass.ts";
import { recordOfPass } from "../../src/pass/pass-record.ts";
import { assembly, fold, inGroups, inOrder, MINUTE_MS, rows, type Sent, START_MS, sent, site, siteWith } from "./records.ts";
import { seeded } from "./train.ts";

const bytes = (passes: Pass[]) => passes.map((pass) => JSON.stringify(recordOfPass(pass)));
const shuffled = <T>(list: T[], seed: number): T[] => {
  const random = seeded(seed);
  return list
    .map((value) => ({ value, key: random() }))
    .sort((a, b) => a.key - b.key)
    .map(({ value }) => value);
};

describe("an ordinary train", () => {
  test("is handed out with its end, whole and without a flag", () => {
    const train = inGroups(sent(1), 32);
    const out: Pass[] = [];
    const to = assembly();
    const outcomes = inOrder(train).map((record) => to.step(record, out));
    expect(new Set(outcomes)).toEqual(new Set(["used"]));
    expect(out).toHaveLength(1);
    const pass = out[0]!;
    expect(pass.id).toBe("alder-14/1/0117@20260304T050607000Z");
    expect(pass).toMatchObject({
      axles: train.ended.axles,
      axlesSaid: train.ended.axles,
      flags: [],
      direction: "rising",
      train: "Q118",
      ambientF: 54,
    });
    expect(pass.endedMs).toBe(Date.parse(train.ended.time));
    expect(pass.ms).toHaveLength(pass.axles);
    expect(pass.gapInches[0]).toBeNaN();
    expect(pass.bearingRiseF[1][5]).toBe(Math.fround(sent(1).axles[0]!.right.bearing[5]!));
    expect(pass.tags).toEqual(new Map([[9, "QX 100123"]]));
    expect(pass.vehicles.length).toBeGreaterThan(12);
  });

  test("comes out the same in whatever groups its axles are sent", () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1e6 }), fc.integer({ min: 1, max: 64 }), (seed, size) => {
        const train = sent(seed);
        const random = seeded(seed + 1);
        const uneven = inGroups(train, () => 1 + Math.floor(random() * size));
        expect(bytes(fold(inOrder(uneven)))).toEqual(bytes(fold(inOrder(inGroups(train, 1)))));
      }),
      { numRuns: 60, seed: 1 },
    );
  });

  test("comes out the same in whatever order its records arrive, repeated or not", () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1e6 }), fc.integer({ min: 1, max: 64 }), fc.boolean(), (seed, size, absolute) => {
        const train = inGroups(sent(seed), size);
        const of = absolute ? siteWith({ temperature: "C", reading: "absolute" }) : site;
        const records = inOrder(train);
        const random = seeded(seed);
        const mixed = shuffled([...records, ...records.filter(() => random() < 0.3)], seed);
        expect(bytes(fold(mixed, assembly(of)))).toEqual(bytes(fold(records, assembly(of))));
      }),
      { numRuns: 150, seed: 2 },
    );
  });

  test("told twice changes nothing, and every record of the second telling is a repeat", () => {
    const records = inOrder(inGroups(sent(3), 8));
    const to = assembly();
    const out: Pass[] = [];
    for (const record of records) to.step(record, out);
    expect(records.map((record) => to.step(record, out))).toEqual(records.map(() => "repeated"));
    expect(fold([], to)).toEqual([]);
    expect(out).toHaveLength(1);
  });

  test("without wheel scanners has no wheel columns", () => {
    const train = sent(4);
    const bare = {
      ...train,
      axles: train.axles.map(({ left, right, ...rest }) => ({
        ...rest,
        left: { bearing: left.bearing },
        right: { bearing: right.bearing },
      })),
    };
    expect(fold(inOrder(bare))[0]!.wheelRiseF).toBeNull();
    expect(fold(inOrder(train))[0]!.wheelRiseF).not.toBeNull();
  });
});

describe("units", () => {
  test("the same train told in °C absolute, cm and km/h is the same pass", () => {
    const train = inGroups(sent(5), 32);
    // Readings on a grid that both units can say exactly: whole multiples of 1.8 °F = 1 °C.
    const whole = train.axles.map((record) => ({
      ...record,
      left: { bearing: record.left.bearing.map((value) => Math.round(value! / 1.8) * 1.8) },
      right: { bearing: record.right.bearing.map((value) => Math.round(value! / 1.8) * 1.8) },
    }));
    const metric = whole.map((record) => ({
      ...record,
      gap: record.gap.map((value) => (value === null ? null : value * 2.54)),
      speed: record.speed!.map((value) => value! * 1.609344),
      left: { bearing: record.left.bearing.map((value) => Math.round(value / 1.8) + 10) },
      right: { bearing: record.right.bearing.map((value) => Math.round(value / 1.8) + 10) },
    }));
    const here = { ...train, begun: { ...train.begun, ambient: 50 }, axles: whole };
    const there = { ...train, begun: { ...train.begun, ambient: 10 }, axles: metric };
    const metricSite = siteWith({ temperature: "C", reading: "absolute", gap: "cm", speed: "km/h" });
    expect(bytes(fold(inOrder(there), assembly(metricSite)))).toEqual(bytes(fold(inOrder(here))));
  });

  test("absolute readings of a pass without ambient cannot be told, and it says so", () => {
    const train = sent(6);
    const noAmbient = { ...train, begun: { ...train.begun, ambient: null } };
    const [pass] = fold(inOrder(noAmbient), assembly(siteWith({ reading: "absolute" })));
    expect(pass!.flags).toContain("no-ambient");
    expect(pass!.bearingRiseF[0].every(Number.isNaN)).toBe(true);
    expect(fold(inOrder(noAmbient))[0]!.flags).toEqual([]);
  });

  test("absolute readings without ambient take that of a recent pass, and it says so", () => {
    const absolute = siteWith({ reading: "absolute" });
    const to = assembly(absolute);
    fold(inOrder(sent(1, "0116", START_MS - 60 * MINUTE_MS)), to, START_MS);
    const train = inGroups(sent(6), 16);
    const whole = fold(inOrder(train), assembly(absolute))[0]!;
    const [headless] = fold([...train.axles, train.ended], to);
    expect(headless!.flags).toEqual(["no-begin", "no-ambient"]);
    expect(headless!.ambientF).toBe(54);
    expect(headless!.bearingRiseF).toEqual(whole.bearingRiseF);
    const later = sent(6, "0119", START_MS + 24 * 60 * MINUTE_MS);
    const [stale] = fold(inOrder({ ...later, begun: { ...later.begun, ambient: null } }), to, START_MS + 48 * 60 * MINUTE_MS);
    expect(stale!.ambientF).toBeNaN();
  });

  test("a whole train far too hot is flagged as doubted units", () => {
    const train = sent(7);
    const [pass] = fold(inOrder(train), assembly(siteWith({ temperature: "C", reading: "absolute", gap: "ft" })));
    expect(pass!.flags).toContain("units-doubted");
  });
});

describe("what does not arrive", () => {
  test("missing axles are rows of NaN and the pass waits for them before it says so", () => {
    const train = inGroups(sent(8), 4);
    const kept = { ...train, axles: train.axles.filter((_, k) => k !== 3) };
    const to = assembly();
    const out: Pass[] = [];
    for (const record of inOrder(kept)) to.step(record, out);
    expect(out).toHaveLength(0);
    to.tick(Date.parse(train.ended.time) + SETTLE_MS + 1, out);
    const pass = out[0]!;
    expect(pass.flags).toEqual(["missing-axles"]);
    expect(Array.from(pass.ms.subarray(11, 17), Number.isNaN)).toEqual([false, true, true, true, true, false]);
    expect(pass.bearingRiseF[0][13]).toBeNaN();
    expect(to.step(train.axles[3]!, out)).toBe("late");
    expect(to.step(train.axles[2]!, out)).toBe("repeated");
    expect(out).toHaveLength(1);
  });

  test("the missing axles arrive after the end: the pass goes out at once, as if nothing had happened", () => {
    const train = inGroups(sent(8), 4);
    const late = [train.begun, ...train.axles.slice(0, 3), ...train.axles.slice(4), train.ended, train.axles[3]!];
    const to = assembly();
    const out: Pass[] = [];
    for (const record of late) to.step(record, out);
    expect(bytes(out)).toEqual(bytes(fold(inOrder(train))));
  });

  test("the last axles never come: the count shows it", () => {
    const train = inGroups(sent(9), 4);
    const [pass] = fold(inOrder({ ...train, axles: train.axles.slice(0, -1) }));
    expect(pass!.flags).toEqual(["missing-axles", "count-mismatch"]);
    expect(pass!.axles).toBeLessThan(pass!.axlesSaid!);
  });

  test("more axles than the site counted is a mismatch, not a loss", () => {
    const train = sent(10);
    const [pass] = fold(inOrder({ ...train, ended: { ...train.ended, axles: train.ended.axles - 2 } }));
    expect(pass!.flags).toEqual(["count-mismatch"]);
    expect(pass!.axles).toBe(train.ended.axles);
  });

  test("no end: closed when event time has been quiet for long enough, not before", () => {
    const train = inGroups(sent(11), 32);
    const to = assembly();
    const out: Pass[] = [];
    for (const record of [train.begun, ...train.axles]) to.step(record, out);
    const lastMs = START_MS + train.axles.at(-1)!.ms.at(-1)!;
    to.tick(lastMs + QUIET_MS, out);
    expect(out).toHaveLength(0);
    to.tick(lastMs + QUIET_MS + 1, out);
    expect(out[0]!.flags).toEqual(["no-end", "timed-out"]);
    expect(out[0]!.endedMs).toBe(lastMs);
    expect(to.step(train.ended, out)).toBe("late");
  });

  test("no begin and axles between milliseconds: it began at a whole one, as its record says it", () => {
    const train = sent(19);
    const axles = train.axles.map((record) => ({ ...record, ms: record.ms.map((at) => at + 0.5) }));
    const [pass] = fold(inOrder({ ...train, axles }).slice(1));
    expect(pass!.flags).toContain("no-begin");
    expect(pass!.begunMs).toBe(Math.trunc(pass!.begunMs));
  });

  test("no begin: nothing is lost, the direction of the pass before stands in, and it says so", () => {
    const to = assembly();
    const before = sent(1, "0116", START_MS - 60 * MINUTE_MS);
    fold(inOrder({ ...before, begun: { ...before.begun, direction: "falling" } }), to, START_MS);
    const train = inGroups(sent(12), 32);
    const [pass] = fold([...train.axles, train.ended], to);
    expect(pass!.flags).toEqual(["no-begin"]);
    expect(pass!.direction).toBe("falling");
    expect(pass!.axles).toBe(train.ended.axles);
    expect(pass!.bearingRiseF[0]).toEqual(fold(inOrder(train))[0]!.bearingRiseF[0]);
    expect(to.step(train.begun, [])).toBe("late");
  });

  test("a pass begun and ended without an axle is counted, not handed out", () => {
    const train = sent(13);
    const to = assembly();
    expect(fold([train.begun, { ...train.ended, axles: 0 }], to)).toEqual([]);
    expect(to.emptyPasses).toBe(1);
  });

  test("a closed feed closes what is still open", () => {
    const train = sent(14);
    const to = assembly();
    const out: Pass[] = [];
    to.step(train.begun, out);
    to.step(train.axles[0]!, out);
    to.closeAll(out);
    expect(out[0]!.flags).toEqual(["no-end", "timed-out"]);
  });
});

describe("several passes", () => {
  test("two open on one track at once stay apart", () => {
    const one = inGroups(sent(15, "0117"), 16);
    const two = inGroups(sent(16, "0118", START_MS + 20 * MINUTE_MS), 16);
    const between: AxleReading[] = [];
    const [a, b] = [inOrder(one), inOrder(two)];
    for (let k = 0; k < Math.max(a.length, b.length); k++) for (const list of [a, b]) if (k < list.length) between.push(list[k]!);
    const together = bytes(fold(between)).sort();
    expect(together).toEqual([...bytes(fold(a)), ...bytes(fold(b))].sort());
  });

  test("one more than may be open at once pushes the oldest out", () => {
    const to = assembly();
    const out: Pass[] = [];
    for (let k = 0; k <= OPEN_PASSES; k++) {
      const { begun, axles } = sent(20 + k, `02${k}`, START_MS + k * MINUTE_MS);
      to.step(begun, out);
      to.step(axles[0]!, out);
    }
    expect(out.map((pass) => [pass.pass, pass.flags])).toEqual([["020", ["no-end", "timed-out"]]]);
  });

  test("a pass number used again the next day is a new pass; the old one's records again are not", () => {
    const to = assembly();
    const old = inOrder(sent(21));
    const day = 24 * 60 * MINUTE_MS;
    expect(fold(old, to)).toHaveLength(1);
    to.tick(START_MS + day, []);
    const next = inOrder(sent(22, "0117", START_MS + day));
    expect(to.step(old[0]!, [])).toBe("repeated");
    expect(to.step(old[2]!, [])).toBe("repeated");
    const passes = fold(next, to, START_MS + day + 400 * MINUTE_MS);
    expect(passes.map((pass) => pass.id)).toEqual(["alder-14/1/0117@20260305T050607000Z"]);
    expect(passes[0]!.flags).toEqual([]);
    expect(to.step(old[0]!, [])).toBe("late");
  });

  test("a pass told again a day later is a repeat to its last record, and its number still stands for the next one", () => {
    const to = assembly();
    const day = 24 * 60 * MINUTE_MS;
    const old = inOrder(inGroups(sent(21), 32));
    expect(fold(old, to)).toHaveLength(1);
    to.tick(START_MS + day, []);
    const out: Pass[] = [];
    expect(old.map((record) => to.step(record, out))).toEqual(old.map(() => "repeated"));
    const next = inOrder(inGroups(sent(22, "0117", START_MS + day), 32));
    expect(next.map((record) => to.step(record, out))).toEqual(next.map(() => "used"));
    to.tick(START_MS + day + 400 * MINUTE_MS, out);
    expect(out.map((pass) => [pass.id, pass.flags])).toEqual([["alder-14/1/0117@20260305T050607000Z", []]]);
  });

  test("a number used again before the first pass ended closes the first", () => {
    const first = sent(23);
    const second = sent(24, "0117", START_MS + 180 * MINUTE_MS);
    const passes = fold([first.begun, first.axles[0]!, ...inOrder(second)], assembly(), START_MS + 800 * MINUTE_MS);
    expect(passes.map((pass) => pass.flags)).toEqual([["no-end", "timed-out"], []]);
  });
});

describe("trains that do not just run through", () => {
  const stretched = (train: Sent, from: number, addMs: number): Sent => {
    const whole = train.axles[0]!;
    const ms = whole.ms.map((at, row) => (row < from ? at : at + addMs));
    const ended = { ...train.ended, time: new Date(Date.parse(train.ended.time) + addMs).toISOString() };
    return { ...train, axles: [{ ...whole, ms }], ended };
  };

  test("a train that stood over the site is one pass and says so", () => {
    const [pass] = fold(inOrder(stretched(sent(25), 20, 25 * MINUTE_MS)));
    expect(pass!.flags).toEqual(["stopped-over-site"]);
  });

  test("a slow train says so, by its speed or by the site's word", () => {
    const train = sent(26);
    const whole = train.axles[0]!;
    const slow = { ...train, axles: [{ ...whole, speed: whole.speed!.map(() => 7.5), ms: whole.ms.map((at) => at * 6) }] };
    const ended = { ...train.ended, time: new Date(START_MS + whole.ms.at(-1)! * 6 + 500).toISOString() };
    expect(fold(inOrder({ ...slow, ended }))[0]!.flags).toEqual(["slow"]);
    expect(fold(inOrder({ ...train, ended: { ...train.ended, integrity: ["slow", "power"] } }))[0]!.flags).toEqual(["slow", "power"]);
  });

  test("a train that reverses over the site shows the same spacings backwards", () => {
    const train = sent(27);
    const whole = train.axles[0]!;
    const turn = 30;
    const mirror = <T>(column: T[]) => [...column.slice(0, turn), ...column.slice(turn - 14, turn).reverse(), ...column.slice(turn)];
    const gap = [...whole.gap.slice(0, turn), 0, ...whole.gap.slice(turn - 13, turn).reverse(), ...whole.gap.slice(turn)];
    const axles = whole.ms.length + 14;
    const reversed = {
      ...whole,
      ms: Array.from({ length: axles }, (_, row) => row * 900),
      gap,
      speed: mirror(whole.speed!),
      left: { bearing: mirror(whole.left.bearing) },
      right: { bearing: mirror(whole.right.bearing) },
      tag: mirror(whole.tag!),
    };
    const [pass] = fold(inOrder({ ...train, axles: [reversed], ended: { ...train.ended, axles } }));
    expect(pass!.flags).toContain("reversed-over-site");
  });

  test("ordinary trains never look reversed", () => {
    for (let seed = 100; seed < 160; seed++) expect(fold(inOrder(sent(seed)))[0]!.flags).toEqual([]);
  });

  test("axle times that fall are kept and flagged", () => {
    const train = sent(28);
    const whole = train.axles[0]!;
    const ms = [...whole.ms];
    [ms[10], ms[11]] = [ms[11]!, ms[10]!];
    expect(fold(inOrder({ ...train, axles: [{ ...whole, ms }] }))[0]!.flags).toEqual(["out-of-order"]);
  });

  test("over two hours: closed although axles still come", () => {
    const train = inGroups(sent(29), 4);
    const to = assembly();
    const out: Pass[] = [];
    to.step(train.begun, out);
    let nowMs = START_MS;
    for (const record of train.axles) {
      to.step(record, out);
      nowMs += 20 * MINUTE_MS;
      to.tick(nowMs, out);
      if (out.length > 0) break;
    }
    expect(out[0]!.flags).toContain("timed-out");
    expect(nowMs - START_MS).toBe(140 * MINUTE_MS);
  });
});

describe("nonsense", () => {
  test("another value for an axle already told: the first word stands and the pass says that they differ", () => {
    const train = inGroups(sent(30), 8);
    const other = structuredClone(train.axles[1]!);
    other.left.bearing[2] = 190;
    const [pass] = fold([train.begun, ...train.axles, other, train.ended]);
    expect(pass!.flags).toEqual(["repeat-differs"]);
    expect(pass!.bearingRiseF[0][10]).toBe(Math.fround(train.axles[1]!.left.bearing[2]!));
  });

  test("axles beyond the bounds of a pass are refused with a reason, and the pass goes on", () => {
    const train = sent(31);
    const to = assembly();
    const out: Pass[] = [];
    to.step(train.begun, out);
    expect(to.step({ ...rows(train.axles[0]!, 0, 2), first: 2000 }, out)).toMatchObject({
      reason: "PASS-001 axles-over-limit",
      path: "first",
    });
    expect(to.step({ ...rows(train.axles[0]!, 0, 2), ms: [0, 7_200_001] }, out)).toMatchObject({
      reason: "PASS-002 pass-over-two-hours",
      path: "ms[1]",
    });
    expect(to.step({ ...rows(train.axles[0]!, 0, 2), ms: [Number.NaN, 5] }, out)).toMatchObject({ path: "ms[0]" });
    expect(to.step({ ...train.begun, pass: "9", time: "yesterday" }, out)).toMatchObject({ reason: "PASS-003 no-time" });
    to.step(train.axles[0]!, out);
    to.step(train.ended, out);
    expect(out[0]!.flags).toEqual([]);
  });

  test("the longest pass there may be fits", () => {
    const axles = 2000;
    const whole = { ...sent(32).axles[0]!, tag: undefined, speed: undefined };
    const column = (value: number) => Array.from({ length: axles }, () => value);
    const long = {
      ...whole,
      ms: Array.from({ length: axles }, (_, row) => row * 90),
      gap: column(70),
      left: { bearing: column(30) },
      right: { bearing: column(31) },
    };
    const train = { ...sent(32), axles: [long], ended: { ...sent(32).ended, axles, time: new Date(START_MS + 200_000).toISOString() } };
    const [pass] = fold(inOrder(inGroups(train, 64)));
    expect(pass!.axles).toBe(axles);
  });

  test("a site whose clock is a year ahead still gets its passes, whole ones at once and broken ones in the end", () => {
    const year = 365 * 24 * 60 * MINUTE_MS;
    const to = assembly();
    const out: Pass[] = [];
    to.tick(START_MS, out);
    for (const record of inOrder(sent(33, "1", START_MS + year))) to.step(record, out);
    expect(out).toHaveLength(1);
    const broken = sent(34, "2", START_MS + year + 60 * MINUTE_MS);
    for (const record of [broken.begun, ...broken.axles]) to.step(record, out);
    to.tick(START_MS + QUIET_MS, out);
    expect(out).toHaveLength(1);
    to.tick(START_MS + QUIET_MS + 1, out);
    expect(out).toHaveLength(2);
    for (const record of inOrder(sent(35, "3", START_MS + 60 * MINUTE_MS))) to.step(record, out);
    expect(out[2]!.flags).toEqual([]);
  });

  test("whatever is thrown at it, each record gets a word and no pass is handed out twice", () => {
    const word = fc.constantFrom("1", "2", "3", "4", "5", "6");
    const when = fc.integer({ min: 0, max: 300 });
    const step = fc.oneof(
      fc.record({ kind: fc.constant("begin" as const), pass: word, at: when }),
      fc.record({ kind: fc.constant("axles" as const), pass: word, at: fc.integer({ min: 0, max: 50 }) }),
      fc.record({ kind: fc.constant("end" as const), pass: word, at: when }),
      fc.record({ kind: fc.constant("tick" as const), pass: word, at: when }),
    );
    const train = inGroups(sent(36), 2);
    fc.assert(
      fc.property(fc.array(step, { maxLength: 60 }), (steps) => {
        const to = assembly();
        const out: Pass[] = [];
        for (const { kind, pass, at } of steps) {
          const time = new Date(START_MS + at * MINUTE_MS).toISOString();
          if (kind === "tick") to.tick(START_MS + at * MINUTE_MS, out);
          else if (kind === "begin") expect(["used", "repeated", "late"]).toContain(to.step({ ...train.begun, pass, time }, out));
          else if (kind === "end")
            expect(["used", "repeated", "late"]).toContain(to.step({ ...train.ended, pass, time, axles: at % 40 }, out));
          else expect(["used", "repeated", "late"]).toContain(to.step({ ...train.axles[at % train.axles.length]!, pass }, out));
        }
        to.closeAll(out);
        const ids = out.map((each) => each.id);
        expect(new Set(ids).size).toBe(ids.length);
      }),
      { numRuns: 500, seed: 3 },
    );
  });
});
