import fc from "fast-check";
import { expect, test } from "vitest";
import { Journeys, type Placing } from "../../src/journey/join.ts";
import { railOfSide } from "../../src/journey/journey.ts";
import { comparePasses, type Pass } from "../../src/pass/pass.ts";
import { straightLine } from "./straight-line.ts";
import { mixedTraffic, run } from "./traffic.ts";
import { coalCar, coldLevels, Dice, mixedTrain, reversed, type Seeing, type Seen, see, unitTrain, type Vehicle } from "./train.ts";

const line = straightLine(6);

function place(journeys: Journeys, pass: Pass): Placing {
  return journeys.place(pass, coldLevels(pass));
}

/** Places a train's passes in order; each continues the last. */
function follow(journeys: Journeys, dice: Dice, seeings: (Seeing & { as?: Vehicle[] })[], train: Vehicle[]): Placing[] {
  return seeings.map((seeing) => place(journeys, see(dice, seeing.as ?? train, seeing).pass));
}

const rising = (site: string, hour: number): Seeing => ({ site, direction: "rising", hour });
const falling = (site: string, hour: number): Seeing => ({ site, direction: "falling", hour });

test("a train over four sites is one journey, and its join states miles, speed, scale and margin", () => {
  const dice = new Dice(1);
  const placings = follow(
    new Journeys(line),
    dice,
    [0, 1, 2, 3].map((k) => ({ ...rising(`s${k}`, 1 + 0.4 * k), scale: 1 + 0.004 * k })),
    mixedTrain(dice, 80),
  );
  expect(new Set(placings.map((one) => one.journey.id)).size).toBe(1);
  const { join, miles } = placings[3]!.leg;
  expect(miles).toBe(45);
  expect(join).toMatchObject({ miles: 15, flipped: false, dropped: 0, added: 0, train: "unknown", runnerUp: null, doubts: [] });
  expect(join!.mph).toBeCloseTo(37.5, 1);
  expect(join!.scale).toBeCloseTo(1.012, 2);
  expect(join!.margin).toBeGreaterThan(20);
});

test("cars set out leave the roster, cars picked up get new numbers, all others keep theirs", () => {
  const dice = new Dice(2);
  const journeys = new Journeys(line);
  const train = mixedTrain(dice, 80);
  const fresh = mixedTrain(dice, 10).slice(4);
  const changed = [...train.slice(0, 30), ...train.slice(36, 60), ...fresh, ...train.slice(60)];
  const first = see(dice, train, rising("s0", 1));
  const second = see(dice, changed, rising("s1", 1.5));
  place(journeys, first.pass);
  const { leg, journey } = place(journeys, second.pass);
  expect(leg.join).toMatchObject({ dropped: 24, added: fresh.length * 4 });
  expect(journey.rosterAxles).toBe(first.pass.axles + fresh.length * 4);
  second.truth.forEach((axle, row) => {
    const was = first.truth.indexOf(axle);
    if (was >= 0) expect(leg.rosterOfRow[row]).toBe(was);
    else expect(leg.rosterOfRow[row]).toBeGreaterThanOrEqual(first.pass.axles);
  });
});

test("an axle missed at one site gets its number back at the next; one counted twice gets none", () => {
  const dice = new Dice(3);
  const journeys = new Journeys(line);
  const train = mixedTrain(dice, 60);
  const [, missing, whole] = follow(
    journeys,
    dice,
    [rising("s0", 1), { ...rising("s1", 1.4), missed: [101], doubled: [150] }, rising("s2", 1.8)],
    train,
  );
  expect(missing!.leg.join).toMatchObject({ missedSingly: 1, doubled: 1, dropped: 0, added: 0 });
  expect([...missing!.leg.rosterOfRow].filter((number) => number < 0)).toHaveLength(1);
  expect([...whole!.leg.rosterOfRow]).toEqual(Array.from({ length: whole!.leg.pass.axles }, (_, i) => i));
});

test("a train turned on a wye comes back in the same order, its bearings over the other rail", () => {
  const dice = new Dice(4);
  const journeys = new Journeys(line);
  const [out, , back] = follow(
    journeys,
    dice,
    [rising("s1", 1), rising("s2", 1.4), falling("s2", 4), falling("s1", 4.5)],
    mixedTrain(dice, 70),
  );
  expect(back!.journey.legs).toHaveLength(4);
  expect(back!.leg).toMatchObject({ flipped: false, direction: "falling" });
  expect(railOfSide(back!.leg, 0)).not.toBe(railOfSide(out!.leg, 0));
});

test("a train that ran around comes back last car first, its bearings over the same rail", () => {
  const dice = new Dice(5);
  const journeys = new Journeys(line);
  const train = mixedTrain(dice, 70);
  const power = train.findIndex((one) => one.axles.length === 4);
  // The locomotives go to the other end; the cars stay as they stand.
  const around = [...reversed(train.slice(0, power)), ...reversed(train.slice(power))];
  const [out, , back, on] = follow(
    journeys,
    dice,
    [rising("s1", 1), rising("s2", 1.4), { ...falling("s2", 4), as: around }, { ...falling("s1", 4.5), as: around }],
    train,
  );
  expect(back!.leg).toMatchObject({ flipped: true, direction: "falling" });
  expect(railOfSide(back!.leg, 0)).toBe(railOfSide(out!.leg, 0));
  const cars = (train.length - power) * 4;
  const first = power * 6;
  expect([...back!.leg.rosterOfRow.slice(-cars)].reverse()).toEqual(Array.from({ length: cars }, (_, k) => first + k));
  expect(on!.journey.id).toBe(out!.journey.id);
  expect(on!.leg.flipped).toBe(true);
});

test("a dead site between is passed over, and said", () => {
  const dice = new Dice(6);
  const [, after] = follow(new Journeys(line), dice, [rising("s0", 1), rising("s2", 1.9)], mixedTrain(dice, 60));
  expect(after!.leg).toMatchObject({ miles: 30 });
  expect(after!.leg.join!.doubts.join(" ")).toContain("Not heard at s1");
});

test("behind a junction a train is found on either line", () => {
  const dice = new Dice(7);
  const branch = straightLine(6, ["1"], 2);
  const journeys = new Journeys(branch);
  const a = mixedTrain(dice, 60);
  const b = mixedTrain(dice, 60);
  const first = place(journeys, see(dice, a, rising("s2", 1)).pass);
  const second = place(journeys, see(dice, b, rising("s2", 1.2)).pass);
  expect(place(journeys, see(dice, b, rising("b0", 1.6)).pass).journey.id).toBe(second.journey.id);
  expect(place(journeys, see(dice, a, rising("s3", 1.7)).pass).journey.id).toBe(first.journey.id);
});

test("a site that reports the wrong direction joins rightly, and its direction is doubted", () => {
  const dice = new Dice(8);
  const placings = follow(new Journeys(line), dice, [rising("s0", 1), falling("s1", 1.4), rising("s2", 1.8)], mixedTrain(dice, 60));
  expect(new Set(placings.map((one) => one.journey.id)).size).toBe(1);
  expect(placings[1]!.leg).toMatchObject({ direction: "rising", directionDoubted: true, flipped: false });
  expect(placings[2]!.leg).toMatchObject({ direction: "rising", directionDoubted: false });
});

test("a journey that began at a site with the wrong direction is put right by the next one", () => {
  const dice = new Dice(9);
  const journeys = new Journeys(line);
  const [first, second] = follow(journeys, dice, [falling("s1", 1), rising("s2", 1.4)], mixedTrain(dice, 60));
  expect(second!.journey.id).toBe(first!.journey.id);
  expect(first!.leg).toMatchObject({ direction: "rising", directionDoubted: true });
  expect(railOfSide(second!.leg, 0)).toBe(railOfSide(first!.leg, 0));
  journeys.rollBack(first!.leg.pass);
  expect(first!.leg).toMatchObject({ direction: "falling", directionDoubted: false });
});

test("trains meet and overtake on double track without being mixed up", () => {
  const dice = new Dice(10);
  const double = straightLine(6, ["1", "2"]);
  const journeys = new Journeys(double);
  const [slow, fast, other] = [mixedTrain(dice, 90), mixedTrain(dice, 60), mixedTrain(dice, 70)];
  const at = (train: Vehicle[], seeing: Seeing) => place(journeys, see(dice, train, seeing).pass).journey.id;
  const a = at(slow!, rising("s1", 1));
  const b = at(fast!, { ...rising("s1", 1.2), track: "2" });
  const c = at(other!, falling("s2", 1.3));
  expect(at(fast!, { ...rising("s2", 1.55), track: "2" })).toBe(b);
  expect(at(other!, falling("s1", 1.7))).toBe(c);
  expect(at(slow!, rising("s2", 1.9))).toBe(a);
});

/** Unit trains of cars so alike that no spacing tells them apart. */
function twins(dice: Dice): [Vehicle[], Vehicle[]] {
  return [unitTrain(dice, 100, coalCar, 0.02), unitTrain(dice, 100, coalCar, 0.02)];
}

test("of two look-alike unit trains that follow each other none is joined, and both are named", () => {
  const dice = new Dice(11);
  const journeys = new Journeys(line);
  const [a, b] = twins(dice);
  const first = place(journeys, see(dice, a, rising("s0", 1)).pass).journey.id;
  const second = place(journeys, see(dice, b, rising("s0", 1.15)).pass).journey.id;
  const placing = place(journeys, see(dice, a, rising("s1", 1.5)).pass);
  expect(placing.leg.join).toBeNull();
  expect(placing.doubt!.kind).toBe("ambiguous");
  expect(placing.doubt!.candidates.map((one) => one.journey).sort()).toEqual([first, second].sort());
  expect(placing.doubt!.words).toMatch(/look alike/);
});

test("train ids tell look-alikes apart", () => {
  const dice = new Dice(12);
  const journeys = new Journeys(line);
  const [a, b] = twins(dice);
  place(journeys, see(dice, a, { ...rising("s0", 1), train: "A1" }).pass);
  const second = place(journeys, see(dice, b, { ...rising("s0", 1.15), train: "B2" }).pass);
  const placing = place(journeys, see(dice, b, { ...rising("s1", 1.6), train: "B2" }).pass);
  expect(placing.journey.id).toBe(second.journey.id);
  expect(placing.leg.join!.train).toBe("same");
});

test("the small differences of their cars tell look-alikes apart where there are any", () => {
  const dice = new Dice(13);
  const journeys = new Journeys(line);
  const a = unitTrain(dice, 100, coalCar, 0.8);
  const b = unitTrain(dice, 100, coalCar, 0.8);
  const first = place(journeys, see(dice, a, rising("s0", 1)).pass);
  const second = place(journeys, see(dice, b, rising("s0", 1.15)).pass);
  expect(place(journeys, see(dice, b, rising("s1", 1.5)).pass).journey.id).toBe(second.journey.id);
  expect(place(journeys, see(dice, a, rising("s1", 1.6)).pass).journey.id).toBe(first.journey.id);
});

test("a wrong train id neither forces a join nor prevents the right one", () => {
  const dice = new Dice(14);
  const journeys = new Journeys(line);
  const [a, b] = [mixedTrain(dice, 70), mixedTrain(dice, 70)];
  const first = place(journeys, see(dice, a, { ...rising("s0", 1), train: "A1" }).pass);
  const stranger = place(journeys, see(dice, b, { ...rising("s1", 1.4), train: "A1" }).pass);
  expect(stranger.leg.join).toBeNull();
  const right = place(journeys, see(dice, a, { ...rising("s1", 1.6), train: "Z9" }).pass);
  expect(right.journey.id).toBe(first.journey.id);
  expect(right.leg.join!.doubts.join(" ")).toContain("different train ids");
  expect(right.journey.train).toBe("A1");
});

test("vehicle tags tell look-alikes apart", () => {
  const dice = new Dice(15);
  const journeys = new Journeys(line);
  const [a, b] = twins(dice);
  const tagged = (name: string) =>
    new Map([
      [18, `${name} 1`],
      [22, `${name} 2`],
      [26, `${name} 3`],
    ]);
  const first = place(journeys, see(dice, a, { ...rising("s0", 1), tags: tagged("QX") }).pass);
  place(journeys, see(dice, b, { ...rising("s0", 1.15), tags: tagged("QY") }).pass);
  const placing = place(journeys, see(dice, a, { ...rising("s1", 1.5), tags: tagged("QX") }).pass);
  expect(placing.journey.id).toBe(first.journey.id);
  expect(placing.leg.join!.tagsAgree).toBe(3);
});

test("no train is joined that would have run faster than the line allows", () => {
  const dice = new Dice(16);
  const train = mixedTrain(dice, 60);
  const [, next] = follow(new Journeys(line), dice, [rising("s0", 1), rising("s4", 1.4)], train);
  expect(next!.leg.join).toBeNull();
});

test("one hot bearing does not keep a train from being joined; a train whose every bearing jumped is not the same", () => {
  const dice = new Dice(17);
  const train = mixedTrain(dice, 60);
  const hot = (share: number) => {
    const journeys = new Journeys(line);
    place(journeys, see(dice, train, rising("s1", 1)).pass);
    const { pass } = see(dice, train, rising("s2", 1.3));
    const levels = coldLevels(pass);
    for (let row = 0; row < share * pass.axles; row++) levels.excessF[0][row] = 450;
    return journeys.place(pass, levels);
  };
  expect(hot(1 / 1000).leg.join).not.toBeNull();
  expect(hot(1)).toMatchObject({ leg: { join: null }, doubt: { kind: "implausible-heat" } });
});

/** All that can be seen of the state: journeys, legs, mappings, evidence. */
function stateOf(journeys: Journeys): string {
  const all = [...journeys].map(({ id, train, rosterAxles, legs }) => ({
    id,
    train,
    rosterAxles,
    legs: legs.map(({ pass, miles, direction, directionDoubted, flipped, rosterOfRow, join }) => ({
      pass: pass.id,
      miles,
      direction,
      directionDoubted,
      flipped,
      rosterOfRow: [...rosterOfRow],
      join,
    })),
  }));
  return JSON.stringify(all.sort((a, b) => (a.id < b.id ? -1 : 1)));
}

test("whatever order passes arrive in, taking back and placing again ends as placing in order does", () => {
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 100_000 }), (seed) => {
      const passes = run({
        ...mixedTraffic,
        seed,
        trains: 8,
        sites: 5,
        turnShare: 0.2,
        setOutShare: 0.1,
        unheardShare: 0.05,
        miscount: 1 / 500,
        warm: true,
      });
      const levels = new Map(passes.map((one) => [one.pass, one.levels]));
      const straight = new Journeys(straightLine(5, ["1", "2"]));
      for (const { pass } of passes) straight.place(pass, levels.get(pass)!);
      const dice = new Dice(seed);
      const arriving = passes.map((one, k) => ({ pass: one.pass, at: k + dice.between(0, 12) })).sort((a, b) => a.at - b.at);
      const late = new Journeys(straightLine(5, ["1", "2"]));
      for (const { pass } of arriving) {
        const taken = late.rollBack(pass);
        for (let k = 1; k < taken.length; k++) if (comparePasses(taken[k - 1]!, taken[k]!) >= 0) throw new Error("not in order");
        for (const one of [pass, ...taken]) late.place(one, levels.get(one)!);
      }
      return stateOf(late) === stateOf(straight);
    }),
    { numRuns: 25, seed: 3 },
  );
});

test("a journey unheard for long is forgotten, and what is open stays bounded", () => {
  const dice = new Dice(18);
  const journeys = new Journeys(line);
  const [old] = follow(journeys, dice, [rising("s0", 1)], mixedTrain(dice, 30));
  const [young] = follow(journeys, dice, [rising("s0", 9)], mixedTrain(dice, 30));
  journeys.forget(young!.leg.pass.begunMs - 3_600_000);
  expect([...journeys].map((one) => one.id)).toEqual([young!.journey.id]);
  expect(journeys.journeyOf(old!.leg.pass.id)).toBeNull();
  expect(journeys.journeyOf(young!.leg.pass.id)).toEqual({ journey: young!.journey, leg: 0 });
});

test("a train that took on more cars than it had is not joined, and it is said which train was due", () => {
  const dice = new Dice(21);
  const journeys = new Journeys(line);
  const train = mixedTrain(dice, 30);
  const first = place(journeys, see(dice, train, rising("s0", 1)).pass);
  const grown = [...train.slice(0, 8), ...mixedTrain(dice, 30).slice(4), ...train.slice(8, 16), ...mixedTrain(dice, 40).slice(4)];
  const placing = place(journeys, see(dice, grown, rising("s1", 2)).pass);
  expect(placing.leg.join).toBeNull();
  expect(placing.doubt).toMatchObject({ kind: "weak", candidates: [{ journey: first.journey.id }] });
  expect(placing.doubt!.words).toBe(
    "A train was due here, and nothing of it was recognized: this is another train, or one that left or took on most of its cars on the way; nothing was joined.",
  );
});

test("a train of which none could be due is new, without a doubt", () => {
  const dice = new Dice(22);
  const journeys = new Journeys(line);
  place(journeys, see(dice, mixedTrain(dice, 60), rising("s1", 1)).pass);
  // From the other side, long after it was due, and sooner than any train is there.
  expect(place(journeys, see(dice, mixedTrain(dice, 60), falling("s2", 1.1)).pass).doubt).toBeNull();
  expect(place(journeys, see(dice, mixedTrain(dice, 60), rising("s2", 6)).pass).doubt).toBeNull();
});

test("a doubt is said once: a train that turned back, and the site it passed unheard, in one sentence", () => {
  const dice = new Dice(23);
  const train = mixedTrain(dice, 80);
  const passes = [rising("s1", 1), rising("s2", 1.4), { ...falling("s1", 4), as: train.slice(0, -1) }];
  const [, , back] = follow(new Journeys(line), dice, passes, train);
  expect(back!.leg.join!.doubts.filter((words) => !words.startsWith("Another"))).toEqual([
    "The train turned back between the two sites, unheard at s2 on its way back; how far it went before is not known.",
    "4 axles are gone since the site before; of cars all alike, which ones cannot be told from the spacings: a bearing near them may be another car's.",
  ]);
});

/** Places a pass whose bearings are as warm over their side as they always are, but for what the scanners scatter. */
function placeWarm(
  journeys: Journeys,
  dice: Dice,
  seen: Seen,
  train: readonly Vehicle[],
  direction: "rising" | "falling" = "rising",
): Placing {
  const levels = coldLevels(seen.pass);
  const warmth = new Map(train.flatMap((one) => one.axles.map((axle, k) => [axle, one.warmth[k]!] as const)));
  seen.truth.forEach((axle, row) => {
    for (const side of [0, 1] as const) {
      const rail = (side ^ (direction === "falling" ? 1 : 0)) as 0 | 1;
      levels.excessF[rail][row] = (warmth.get(axle)?.[side] ?? 0) + dice.normal(3);
    }
  });
  return journeys.place(seen.pass, levels);
}

test("what each bearing usually is tells trains apart that their spacings do not", () => {
  for (let seed = 51; seed <= 60; seed++) {
    const dice = new Dice(seed);
    const journeys = new Journeys(line);
    const [a, b] = twins(dice);
    const over = (train: Vehicle[], site: string, hour: number) => placeWarm(journeys, dice, see(dice, train, rising(site, hour)), train);
    const [first, second] = [over(a, "s0", 1), over(b, "s0", 1.2)];
    expect(second.journey.id).not.toBe(first.journey.id);
    expect([over(a, "s1", 1.4).journey.id, over(b, "s1", 1.6).journey.id]).toEqual([first.journey.id, second.journey.id]);
  }
});

test("a train of the same cars of which no bearing is as it was is another one", () => {
  const dice = new Dice(61);
  const journeys = new Journeys(line);
  const [a, b] = twins(dice);
  const first = placeWarm(journeys, dice, see(dice, a, rising("s0", 1)), a);
  const sister = placeWarm(journeys, dice, see(dice, b, rising("s1", 1.4)), b);
  expect(sister.leg.join).toBeNull();
  expect(sister.doubt!.candidates.map((one) => one.journey)).toEqual([first.journey.id]);
  // It is still found when it comes itself.
  expect(placeWarm(journeys, dice, see(dice, a, rising("s1", 1.6)), a).journey.id).toBe(first.journey.id);
});

test("a train that may have come back is said, where nothing tells it", () => {
  const dice = new Dice(63);
  const journeys = new Journeys(line);
  const [a, b] = twins(dice);
  const first = placeWarm(journeys, dice, see(dice, a, rising("s3", 1)), a);
  const back = placeWarm(journeys, dice, see(dice, b, falling("s3", 2.5)), b, "falling");
  expect(back.leg.join).toBeNull();
  expect(back.doubt).toMatchObject({ kind: "weak", candidates: [{ journey: first.journey.id }] });
  const longer = see(dice, mixedTrain(dice, 90), falling("s3", 3));
  expect(place(journeys, longer.pass).doubt).toBeNull();
});
