import fc from "fast-check";
import { expect, test } from "vitest";
import { passOfRecord, recordOfPass } from "../../src/pass/pass-record.ts";
import { fold, inGroups, inOrder, sent } from "./records.ts";

test("a pass comes back from JSON exactly as it was, holes, tags and vehicles included", () => {
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 1e6 }), fc.integer({ min: 1, max: 40 }), fc.boolean(), (seed, lost, ended) => {
      const train = inGroups(sent(seed), 4);
      const axles = train.axles.filter((_, k) => k % lost !== lost - 1);
      const records = inOrder({ ...train, axles });
      for (const pass of fold(ended ? records : records.slice(0, -1))) {
        expect(passOfRecord(JSON.parse(JSON.stringify(recordOfPass(pass))))).toStrictEqual(pass);
      }
    }),
    { numRuns: 100, seed: 4 },
  );
});

test("a record says how much of the train arrived", () => {
  const train = inGroups(sent(2), 4);
  const [pass] = fold(inOrder({ ...train, axles: train.axles.slice(1) }));
  const record = recordOfPass(pass!);
  expect(record.completeness).toBeCloseTo(1 - 4 / train.ended.axles, 4);
  expect(record.ms.slice(0, 5)).toEqual([null, null, null, null, train.axles[1]!.ms[0]]);
});
