import fc from "fast-check";
import { expect, test } from "vitest";
import { firstRoster, type Roster, type Successor } from "../../src/journey/roster.ts";
import type { Pass } from "../../src/pass/pass.ts";
import { Dice, mixedTrain, reversed, type Seeing, type Seen, see, type Vehicle } from "./train.ts";

const at = (k: number): Seeing => ({ site: `s${k}`, direction: "rising", hour: 1 + 0.4 * k });

function next(roster: Roster, pass: Pass, flipped = false): Successor {
  return roster.after(pass, roster.align(pass, flipped, "thorough")!, flipped);
}

/** True axle by roster number, from the first leg on. */
class Known {
  private readonly axleOf = new Map<number, number>();

  /** Rows whose number belongs to another axle, learning the numbers that are new. */
  wrong(seen: Seen, rosterOfRow: Int32Array): number {
    let wrong = 0;
    seen.truth.forEach((axle, row) => {
      const number = rosterOfRow[row]!;
      if (number < 0 || axle < 0) return;
      const known = this.axleOf.get(number);
      if (known === undefined) this.axleOf.set(number, axle);
      else if (known !== axle) wrong++;
    });
    return wrong;
  }
}

test("a train first seen is numbered from its head", () => {
  const { pass } = see(new Dice(1), mixedTrain(new Dice(1), 40), at(0));
  const { roster, rosterOfRow } = firstRoster(pass);
  expect([...rosterOfRow]).toEqual(Array.from({ length: pass.axles }, (_, k) => k));
  expect(roster.next).toBe(pass.axles);
});

test("a train that comes back last car first has its numbers from the tail", () => {
  const dice = new Dice(2);
  const train = mixedTrain(dice, 60);
  const { pass } = see(dice, train, at(0));
  const back = see(dice, reversed(train), at(1)).pass;
  const { roster, rosterOfRow } = next(firstRoster(pass).roster, back, true);
  expect([...rosterOfRow]).toEqual(Array.from({ length: pass.axles }, (_, k) => pass.axles - 1 - k));
  expect(roster.rowOf(0)).toBe(pass.axles - 1);
});

test("cars that left never give their numbers to those that come", () => {
  const dice = new Dice(3);
  const train = mixedTrain(dice, 60);
  const fresh = mixedTrain(dice, 12).slice(4);
  const whole = see(dice, train, at(0)).pass;
  const fewer = see(dice, [...train.slice(0, 20), ...train.slice(26)], at(1)).pass;
  const more = see(dice, [...train.slice(0, 20), ...train.slice(26, 40), ...fresh, ...train.slice(40)], at(2)).pass;
  const second = next(firstRoster(whole).roster, fewer);
  expect(second.roster.next).toBe(whole.axles);
  const third = next(second.roster, more);
  const added = more.axles - fewer.axles;
  expect(third.roster.next).toBe(whole.axles + added);
  expect([...third.rosterOfRow].filter((number) => number >= whole.axles)).toHaveLength(added);
  expect([...third.rosterOfRow].filter((number) => number < 0)).toEqual([]);
});

test("an axle missed on the first leg gets a number when it is found, the one counted twice never", () => {
  const dice = new Dice(4);
  const train = mixedTrain(dice, 40);
  const first = see(dice, train, { ...at(0), missed: [50] }).pass;
  const second = see(dice, train, { ...at(1), doubled: [90] });
  const { roster, rosterOfRow } = next(firstRoster(first).roster, second.pass);
  expect(rosterOfRow[50]).toBe(first.axles);
  expect(rosterOfRow[second.truth.indexOf(-1)]).toBe(-1);
  expect(roster.axles).toHaveLength(first.axles + 1);
});

test("a pass that lost its tail to a power failure sets nothing out", () => {
  const dice = new Dice(5);
  const train = mixedTrain(dice, 60);
  const whole = see(dice, train, at(0)).pass;
  const cut = see(dice, train.slice(0, 45), { ...at(1), flags: ["no-end"] }).pass;
  const again = see(dice, train, at(2)).pass;
  const second = next(firstRoster(whole).roster, cut);
  expect(second.roster.axles).toHaveLength(whole.axles);
  const third = next(second.roster, again);
  expect([...third.rosterOfRow]).toEqual(Array.from({ length: whole.axles }, (_, k) => k));
});

test("spacings settle on the mean of the legs, in the scale of the first", () => {
  const dice = new Dice(6);
  const train = mixedTrain(dice, 60);
  const exact = see(dice, train, { ...at(0), noiseInches: 0 }).pass;
  let { roster } = firstRoster(see(dice, train, at(1)).pass);
  const errorInches = (): number => {
    let squares = 0;
    for (let k = 1; k < exact.axles; k++) squares += (roster.gapInches[k]! - exact.gapInches[k]!) ** 2;
    return Math.sqrt(squares / (exact.axles - 1));
  };
  const before = errorInches();
  for (let k = 2; k < 6; k++) roster = next(roster, see(dice, train, { ...at(k), scale: 1 + 0.003 * k }).pass).roster;
  expect(errorInches()).toBeLessThan(0.65 * before);
});

test("over any legs, whatever is miscounted, no number comes to stand for another axle", () => {
  fc.assert(
    fc.property(fc.noBias(fc.integer({ min: 1, max: 1_000_000 })), (seed) => {
      const dice = new Dice(seed);
      let train: Vehicle[] = mixedTrain(dice, dice.whole(30, 90));
      const known = new Known();
      const first = see(dice, train, at(0));
      let state = firstRoster(first.pass);
      known.wrong(first, state.rosterOfRow);
      let flipped = false;
      let rows = 0;
      let wrong = 0;
      for (let k = 1; k < 6; k++) {
        if (dice.chance(0.3)) {
          train = reversed(train);
          flipped = !flipped;
        }
        const count = train.reduce((sum, one) => sum + one.axles.length, 0);
        // A spare axle between the two: one missed beside one counted twice is one that was moved.
        const missed = dice.whole(1, count / 2 - 2);
        const seen = see(dice, train, { ...at(k), missed: [missed], doubled: [dice.whole(count / 2 + 2, count - 2)] });
        state = next(state.roster, seen.pass, flipped);
        rows += seen.truth.length;
        wrong += known.wrong(seen, state.rosterOfRow);
        if (new Set([...state.rosterOfRow].filter((number) => number >= 0)).size < seen.pass.axles - 2) return false;
      }
      return wrong <= 0.005 * rows;
    }),
    { numRuns: 60, seed: 1 },
  );
});
