import { expect, test } from "vitest";
import type { Levels } from "../../src/bearing/levels.ts";
import { Journeys, type Placing } from "../../src/journey/join.ts";
import { straightLine } from "./straight-line.ts";
import { coalCar, coldLevels, Dice, mixedTrain, type Seen, see, unitTrain, type Vehicle } from "./train.ts";

/*
 * Cars set out of a block of cars all alike. That a bearing keeps a little warmth of its own from site to site is common
 * practice; how much (6 °F from bearing to bearing, 3 °F from reading to reading) is an assumption of the tests.
 */

const READING_F = 3;
const CARS = 60;
const FROM = 30;
const GONE = 4;
const LEGS = 4;

/** What the bearings of a pass are over their side, each its own warmth. */
function warmLevels(dice: Dice, seen: Seen, train: readonly Vehicle[]): Levels {
  const levels = coldLevels(seen.pass);
  const warmth = new Map(train.flatMap((one) => one.axles.map((axle, k) => [axle, one.warmth[k]!] as const)));
  seen.truth.forEach((axle, row) => {
    for (const rail of [0, 1] as const) levels.excessF[rail][row] = (warmth.get(axle)?.[rail] ?? 0) + dice.normal(READING_F);
  });
  return levels;
}

/** Runs the whole train over some sites and without the cars [FROM, FROM + GONE) over one more. */
function setOut(
  dice: Dice,
  train: Vehicle[],
  levelsOf: (seen: Seen, train: Vehicle[]) => Levels,
): { last: Placing; seen: Seen; first: Seen } {
  const journeys = new Journeys(straightLine(LEGS + 1));
  const shorter = [...train.slice(0, FROM), ...train.slice(FROM + GONE)];
  const over = (as: Vehicle[], k: number): [Seen, Placing] => {
    const seen = see(dice, as, { site: `s${k}`, direction: "rising", hour: 1 + 0.4 * k, train: "Q1" });
    return [seen, journeys.place(seen.pass, levelsOf(seen, as))];
  };
  const [first] = over(train, 0);
  for (let k = 1; k < LEGS; k++) over(train, k);
  const [seen, last] = over(shorter, LEGS);
  return { last, seen, first };
}

const unsure = (placing: Placing): boolean => placing.leg.join!.doubts.some((words) => words.includes("which ones cannot be told"));

/** Rows that got the roster number they had on the first leg. */
function kept({ last, seen, first }: { last: Placing; seen: Seen; first: Seen }): number {
  return seen.truth.filter((axle, row) => first.truth[last.leg.rosterOfRow[row]!] === axle).length;
}

test("which cars left a block all alike is said to be uncertain where nothing tells it", () => {
  const dice = new Dice(1);
  const result = setOut(dice, unitTrain(dice, CARS, coalCar, 0.1), (seen) => coldLevels(seen.pass));
  expect(result.last.leg.join!.dropped).toBe(4 * GONE);
  expect(unsure(result.last)).toBe(true);
});

test("cars of many lengths leave no doubt which of them left", () => {
  for (let seed = 1; seed <= 20; seed++) {
    const dice = new Dice(seed);
    const train = mixedTrain(dice, CARS);
    // A block of two makes, so that the cut cannot slide by a car.
    const odd = { wheelbase: 74, between: 610, overhang: 70 };
    train.splice(FROM, GONE, ...unitTrain(dice, 3 + GONE, odd, 0.1).slice(3));
    const result = setOut(dice, train, (seen) => coldLevels(seen.pass));
    expect(result.last.leg.join!.dropped).toBe(4 * GONE);
    expect(unsure(result.last)).toBe(false);
    expect(kept(result)).toBe(result.seen.truth.length);
  }
});

test("the warmth that each bearing keeps tells which cars left", () => {
  let rows = 0;
  let right = 0;
  for (let seed = 1; seed <= 20; seed++) {
    const dice = new Dice(seed);
    const result = setOut(dice, unitTrain(dice, CARS, coalCar, 0.1), (seen, train) => warmLevels(dice, seen, train));
    expect(result.last.leg.join!.dropped).toBe(4 * GONE);
    rows += result.seen.truth.length;
    right += kept(result);
  }
  expect(right / rows).toBeGreaterThan(0.995);
});

test("cars set out in two places on one leg are not taken for one block where warmth tells", () => {
  for (let seed = 1; seed <= 10; seed++) {
    const dice = new Dice(seed);
    const train = unitTrain(dice, CARS, coalCar, 0.1);
    const left = [...train.slice(0, 20), ...train.slice(21, 38), ...train.slice(38 + GONE)];
    const journeys = new Journeys(straightLine(LEGS + 1));
    const over = (as: Vehicle[], k: number): [Seen, Placing] => {
      const seen = see(dice, as, { site: `s${k}`, direction: "rising", hour: 1 + 0.4 * k, train: "Q1" });
      return [seen, journeys.place(seen.pass, warmLevels(dice, seen, as))];
    };
    const [first] = over(train, 0);
    for (let k = 1; k < LEGS; k++) over(train, k);
    const [seen, last] = over(left, LEGS);
    expect(last.leg.join!.dropped).toBe(4 * (1 + GONE));
    // As one block the 17 cars between the two places would all bear a neighbour's name; a car beside a place still may.
    expect(kept({ last, seen, first })).toBeGreaterThanOrEqual(seen.truth.length - 8);
  }
});
