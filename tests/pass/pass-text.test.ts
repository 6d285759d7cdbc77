import fc from "fast-check";
import { expect, test } from "vitest";
import type { Pass, PassFlag } from "../../src/pass/pass.ts";
import { recordOfPass } from "../../src/pass/pass-record.ts";
import { PassText } from "../../src/pass/pass-text.ts";
import type { Vehicle } from "../../src/pass/vehicle.ts";
import { fold, inGroups, inOrder, sent } from "./records.ts";

const text = new PassText();

function judged(pass: Pass): string {
  return JSON.stringify(recordOfPass(pass));
}

test("passes of trains are written as JSON.stringify writes their record", () => {
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 1e6 }), fc.integer({ min: 1, max: 40 }), fc.boolean(), (seed, lost, ended) => {
      const train = inGroups(sent(seed), 4);
      const axles = train.axles.filter((_, k) => k % lost !== lost - 1);
      const records = inOrder({ ...train, axles });
      for (const pass of fold(ended ? records : records.slice(0, -1))) expect(text.of(pass).toString()).toBe(judged(pass));
    }),
    { numRuns: 100, seed: 5 },
  );
});

const onGrid = fc.oneof(
  { weight: 10, arbitrary: fc.integer({ min: -30_000, max: 250_000 }).map((x) => x / 100) },
  { weight: 2, arbitrary: fc.integer({ min: -120, max: 120 }).map((x) => x / 100) },
  { weight: 1, arbitrary: fc.constantFrom(0, -0, 0.005, -0.005, 9_999_999.99, 1e7, 1e12, -3e20, Number.NaN) },
);
const milliseconds = fc.oneof(
  { weight: 10, arbitrary: fc.integer({ min: 0, max: 7_200_000 }) },
  { weight: 3, arbitrary: fc.integer({ min: 0, max: 7_200_000 }).map((x) => x / 10) },
  { weight: 3, arbitrary: fc.double({ min: 0, max: 7_200_000, noNaN: true }) },
  { weight: 1, arbitrary: fc.constantFrom(0, Number.NaN, 1e-7, 0.1 + 0.2, 123456.7890123) },
);
const vehicle = fc.record<Vehicle>(
  {
    kind: fc.constantFrom("car", "locomotive"),
    ordinal: fc.integer({ min: 1, max: 300 }),
    ordinalOfKind: fc.integer({ min: 1, max: 300 }),
    firstRow: fc.integer({ min: 0, max: 2_000 }),
    axles: fc.integer({ min: 1, max: 40 }),
    trucks: fc.array(fc.integer({ min: 1, max: 12 }), { maxLength: 8 }),
    id: fc.option(fc.constantFrom("QX 100123", "A", 'odd "one"', "Übergabe")),
    confidence: fc.oneof(fc.double({ min: 0, max: 1, noNaN: true }), fc.constantFrom(0, 1, 0.5, 0.9999, 1e-9)),
    odd: fc.constantFrom("axle-missed", "axle-doubled"),
  },
  { requiredKeys: ["kind", "ordinal", "ordinalOfKind", "firstRow", "axles", "trucks", "id", "confidence"] },
);

const anyPass = fc.integer({ min: 0, max: 12 }).chain((axles) => {
  const narrow = fc.array(onGrid, { minLength: axles, maxLength: axles }).map((values) => Float32Array.from(values));
  return fc.record<Pass>(
    {
      id: fc.constant("alder-14/1/0117@20260304T050607000Z"),
      site: fc.constant("alder-14"),
      track: fc.constant("1"),
      pass: fc.constant("0117"),
      direction: fc.constantFrom("rising", "falling"),
      begunMs: fc.integer({ min: 0, max: 4e12 }),
      endedMs: fc.integer({ min: 0, max: 4e12 }),
      ambientF: onGrid,
      train: fc.option(fc.constant("Q 118")),
      axles: fc.constant(axles),
      axlesSaid: fc.option(fc.integer({ min: 0, max: 2_000 })),
      ms: fc.array(milliseconds, { minLength: axles, maxLength: axles }).map((values) => Float64Array.from(values)),
      gapInches: narrow,
      speedMph: narrow,
      bearingRiseF: fc.tuple(narrow, narrow),
      wheelRiseF: fc.option(fc.tuple(narrow, narrow)),
      tags: fc.array(fc.tuple(fc.integer({ min: 0, max: 12 }), fc.constantFrom("A", "QX 1"))).map((tags) => new Map(tags)),
      flags: fc.array(fc.constantFrom<PassFlag>("no-begin", "slow"), { maxLength: 2 }),
      clockAheadMs: fc.integer(),
      vehicles: fc.array(vehicle, { maxLength: 5 }),
      vehicleOfAxle: fc.constant(new Int16Array(axles)),
    },
    { noNullPrototype: true, requiredKeys: [...REQUIRED] },
  );
});

const REQUIRED = [
  "id",
  "site",
  "track",
  "pass",
  "direction",
  "begunMs",
  "endedMs",
  "ambientF",
  "train",
  "axles",
  "axlesSaid",
  "ms",
  "gapInches",
  "speedMph",
  "bearingRiseF",
  "wheelRiseF",
  "tags",
  "flags",
  "vehicles",
  "vehicleOfAxle",
] as const;

test("so is whatever else a pass may hold", () => {
  fc.assert(
    fc.property(anyPass, (pass) => {
      expect(text.of(pass).toString()).toBe(judged(pass));
    }),
    { numRuns: 2_000, seed: 6 },
  );
});

test("a text stays as it is when the next one is written, and long ones find room", () => {
  const [pass] = fold(inOrder(inGroups(sent(3, "0117", undefined, 240), 4)));
  const first = text.of(pass!);
  const before = first.toString();
  const [other] = fold(inOrder(inGroups(sent(4, "0118", undefined, 480), 4)));
  expect(text.of(other!).toString()).toBe(judged(other!));
  expect(first.toString()).toBe(before);
});
