import fc from "fast-check";
import { expect, test } from "vitest";
import { axlesOfRows, type PassTruth, railOfTrueSide, runsOf, type TrainTruth, vehiclesOfPass } from "../../src/simulate/truth.ts";

const pass = (rows: PassTruth["rows"], more: Partial<PassTruth> = {}): PassTruth => ({
  type: "pass",
  train: "T",
  id: "a/1/0001@x",
  site: "a",
  track: "1",
  pass: "0001",
  begun: "",
  ended: "",
  direction: "rising",
  reportedDirection: "rising",
  flipped: false,
  miles: 0,
  speedMph: 45,
  rows,
  missed: [],
  biasF: [0, 0],
  marks: [],
  ...more,
});

test("a mapping of rows survives being written as runs", () => {
  const axle = fc.oneof({ weight: 1, arbitrary: fc.constant(-1) }, { weight: 6, arbitrary: fc.nat({ max: 12 }) });
  fc.assert(
    fc.property(fc.array(axle, { maxLength: 60 }), (axles) => {
      expect([...axlesOfRows(pass(runsOf(axles)))]).toEqual(axles);
    }),
    { seed: 6, numRuns: 500 },
  );
});

test("a whole train forwards, or the other way round, is one run", () => {
  const forwards = Array.from({ length: 400 }, (_, i) => i);
  expect(runsOf(forwards)).toEqual([[0, 1, 400]]);
  expect(runsOf([...forwards].reverse())).toEqual([[399, -1, 400]]);
});

test("a rail is the side of travel, turned by the direction and by a train the other way round", () => {
  expect(railOfTrueSide(pass([]), 0)).toBe(0);
  expect(railOfTrueSide(pass([], { direction: "falling" }), 0)).toBe(1);
  expect(railOfTrueSide(pass([], { flipped: true }), 0)).toBe(1);
  expect(railOfTrueSide(pass([], { direction: "falling", flipped: true }), 0)).toBe(0);
});

test("vehicles keep their bounds when an axle was missed or counted twice", () => {
  const vehicle = (firstAxle: number, axles: number) => ({
    kind: "car" as const,
    id: "x",
    firstAxle,
    axles,
    trucks: [2, 2],
    joinedMile: null,
    leftMile: null,
  });
  const train = { type: "train", vehicles: [vehicle(0, 6), vehicle(6, 4), vehicle(10, 4)] } as unknown as TrainTruth;
  const rows = runsOf([0, 1, 2, 3, 4, 5, 6, 8, -1, 9, 10, 11, 12, 13]);
  expect(vehiclesOfPass(train, pass(rows))).toEqual([
    { vehicle: 0, firstRow: 0, rows: 6 },
    { vehicle: 1, firstRow: 6, rows: 4 },
    { vehicle: 2, firstRow: 10, rows: 4 },
  ]);
});
