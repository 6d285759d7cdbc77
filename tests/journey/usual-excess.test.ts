import { expect, test } from "vitest";
import type { Leg } from "../../src/journey/journey.ts";
import { UsualExcess } from "../../src/journey/usual-excess.ts";
import { coalCar, coldLevels, Dice, see, unitTrain } from "./train.ts";

const dice = new Dice(31);
const train = unitTrain(dice, 10, coalCar);

/** A leg whose left rail reads `leftF` over its side, the right one `rightF`. */
function leg(direction: "rising" | "falling", leftF: number, rightF: number): Leg {
  const { pass } = see(dice, train, { site: "s0", direction, hour: 1 });
  const levels = coldLevels(pass);
  levels.excessF[0].fill(leftF);
  levels.excessF[1].fill(rightF);
  levels.spreadF[0] = levels.spreadF[1] = 5;
  const rosterOfRow = Int32Array.from({ length: pass.axles }, (_, i) => i);
  return { pass, miles: 0, direction, directionDoubted: false, flipped: false, rosterOfRow, join: null, levels };
}

test("what a bearing usually is follows its side of the train, whichever rail it runs on", () => {
  const usual = UsualExcess.none.after(leg("rising", 4, -2), 40).after(leg("falling", -4, 8), 40);
  expect(usual.meanF(0)[3]).toBe(6);
  expect(usual.meanF(1)[3]).toBe(-3);
  expect(usual.turned().meanF(0)[3]).toBe(-3);
});

test("a hot bearing counts no more than a warm one, and one not measured counts not at all", () => {
  const first = leg("rising", 500, 1);
  first.levels.excessF[1][3] = Number.NaN;
  const usual = UsualExcess.none.after(first, 40);
  expect(usual.meanF(0)[3]).toBe(20);
  expect(usual.meanF(1)[3]).toBeNaN();
  expect(usual.after(leg("rising", 0, 3), 40).meanF(1)[3]).toBe(3);
});

test("what was before is not changed by a further leg", () => {
  const before = UsualExcess.none.after(leg("rising", 4, 4), 40);
  before.after(leg("rising", 0, 0), 44);
  expect(before.meanF(0)[3]).toBe(4);
  expect(before.meanF(0)).toHaveLength(40);
});
