import type { Levels } from "../../src/bearing/levels.ts";
import { Journeys } from "../../src/journey/join.ts";
import { railOfSide } from "../../src/journey/journey.ts";
import type { Direction } from "../../src/line/railroad.ts";
import { comparePasses, type Pass } from "../../src/pass/pass.ts";
import { straightLine } from "./straight-line.ts";
import { type CarType, coldLevels, Dice, mixedTrain, reversed, see, unitTrain, type Vehicle } from "./train.ts";

/** What is to be run over the line. Shares are of trains or of passes; assumptions of the tests. */
export interface TrafficPlan {
  seed: number;
  trains: number;
  sites: number;
  tracks: string[];
  trainsPerHour: number;
  unitShare: number;
  /** Sites in a row that unit trains of one make follow each other over. */
  unitTolerance: number;
  noiseInches: number;
  idShare: number;
  setOutShare: number;
  pickUpShare: number;
  turnShare: number;
  unheardShare: number;
  /** Per axle, each. */
  miscount: number;
  warm: boolean;
}

export const mixedTraffic: TrafficPlan = {
  seed: 1,
  trains: 300,
  sites: 8,
  tracks: ["1", "2"],
  trainsPerHour: 2.5,
  unitShare: 0.25,
  unitTolerance: 0.5,
  noiseInches: 1,
  idShare: 0,
  setOutShare: 0.03,
  pickUpShare: 0.03,
  turnShare: 0.03,
  unheardShare: 0.01,
  miscount: 1 / 2000,
  warm: false,
};

interface TruePass {
  pass: Pass;
  train: number;
  /** True axle of each row. */
  truth: number[];
  levels: Levels;
  /** Rail over which end A of every axle ran. */
  railOfA: 0 | 1;
}

const unitTypes: CarType[] = [
  { wheelbase: 70, between: 402, overhang: 48 },
  { wheelbase: 70, between: 480, overhang: 54 },
];

const MILES = 15;

/** Passes of many trains over one line, in the order of event time. */
export function run(plan: TrafficPlan): TruePass[] {
  const dice = new Dice(plan.seed);
  const scales = Array.from({ length: plan.sites }, () => dice.between(0.99, 1.01));
  const passes: TruePass[] = [];
  let hour = 0;
  for (let t = 0; t < plan.trains; t++) {
    hour += -Math.log(1 - dice.next()) / plan.trainsPerHour;
    const unit = dice.chance(plan.unitShare);
    const cars = unit ? dice.whole(0, 1) * 10 + 100 : dice.chance(0.1) ? dice.whole(10, 25) : dice.whole(40, 130);
    const train = unit ? unitTrain(dice, cars, unitTypes[dice.whole(0, 1)]!, plan.unitTolerance) : mixedTrain(dice, cars);
    runTrain(plan, dice, scales, t, hour, train, passes);
  }
  return passes.sort((a, b) => comparePasses(a.pass, b.pass));
}

function runTrain(plan: TrafficPlan, dice: Dice, scales: number[], t: number, start: number, made: Vehicle[], out: TruePass[]): void {
  let train = made;
  let rising = dice.chance(0.5);
  let turned = false;
  let site = rising ? 0 : plan.sites - 1;
  let hour = start;
  const id = dice.chance(plan.idShare) ? `T${t}` : null;
  const speed = dice.between(22, 52);
  for (let legs = 0; legs < 3 * plan.sites && site >= 0 && site < plan.sites; legs++) {
    if (!dice.chance(plan.unheardShare)) {
      const direction: Direction = rising ? "rising" : "falling";
      const count = train.reduce((sum, one) => sum + one.axles.length, 0);
      const miscounted = (): number[] => {
        const axles: number[] = [];
        for (let k = 0; k < count; k++) if (dice.chance(plan.miscount)) axles.push(k);
        return axles;
      };
      const track = plan.tracks[plan.tracks.length > 1 && !rising ? 1 : 0]!;
      const noiseInches = plan.noiseInches;
      const missed = miscounted();
      const doubled = miscounted().filter((k) => !missed.includes(k));
      const seen = see(dice, train, {
        site: `s${site}`,
        track,
        direction,
        hour,
        scale: scales[site]!,
        noiseInches,
        missed,
        doubled,
        train: id,
      });
      const railOfA = ((rising ? 0 : 1) ^ (turned ? 1 : 0)) as 0 | 1;
      out.push({
        ...seen,
        train: t,
        levels: plan.warm ? warmLevels(dice, seen.pass, seen.truth, train, railOfA) : coldLevels(seen.pass),
        railOfA,
      });
    }
    hour += MILES / speed + (dice.chance(0.15) ? dice.between(0.1, 1.5) : dice.between(0, 0.05));
    if (dice.chance(plan.setOutShare)) {
      const at = dice.whole(4, Math.max(4, train.length - 6));
      train = [...train.slice(0, at), ...train.slice(at + dice.whole(1, 5))];
    }
    if (dice.chance(plan.pickUpShare)) {
      const at = dice.whole(4, train.length);
      train = [...train.slice(0, at), ...mixedTrain(dice, dice.whole(5, 12)).slice(4), ...train.slice(at)];
    }
    if (dice.chance(plan.turnShare / 2)) {
      // On a wye the order is kept, running around reverses it; either way it comes back over the same site.
      if (dice.chance(0.5)) {
        train = reversed(train);
        turned = !turned;
      }
      rising = !rising;
      hour += dice.between(0.5, 2);
    } else site += rising ? 1 : -1;
  }
}

function warmLevels(dice: Dice, pass: Pass, truth: number[], train: readonly Vehicle[], railOfA: 0 | 1): Levels {
  const levels = coldLevels(pass);
  const warmth = new Map<number, [number, number]>();
  for (const one of train) {
    one.axles.forEach((axle, k) => {
      warmth.set(axle, one.warmth[k]!);
    });
  }
  truth.forEach((axle, row) => {
    const own = warmth.get(axle);
    levels.excessF[railOfA][row] = (own?.[0] ?? 0) + dice.normal(4);
    levels.excessF[(1 - railOfA) as 0 | 1][row] = (own?.[1] ?? 0) + dice.normal(4);
  });
  return levels;
}

export interface JoinTally {
  passes: number;
  right: number;
  wrong: number;
  undone: number;
  ambiguous: number;
  /** Bearings on joined legs that kept, and lost, their identity. */
  same: number;
  lost: number;
  wrongs: string[];
}

/** Joins the passes and counts against the truth. */
export function tally(plan: TrafficPlan, passes: readonly TruePass[]): JoinTally {
  const journeys = new Journeys(straightLine(plan.sites, plan.tracks));
  const result: JoinTally = { passes: 0, right: 0, wrong: 0, undone: 0, ambiguous: 0, same: 0, lost: 0, wrongs: [] };
  const before = new Map<number, string>();
  const trainOf = new Map<string, number>();
  const identities = new Map<string, Map<number, { axle: number; side: number }>>();
  for (const one of passes) {
    const { journey, leg, doubt } = journeys.place(one.pass, one.levels);
    const joined = leg.join !== null;
    if (before.has(one.train) || joined) {
      result.passes++;
      if (!joined) {
        result.undone++;
        if (doubt !== null) result.ambiguous++;
      } else if (trainOf.get(journey.id) === one.train) result.right++;
      else {
        result.wrong++;
        result.wrongs.push(`${one.pass.id} <- ${leg.join!.from} ${JSON.stringify(leg.join)}`);
      }
    }
    before.set(one.train, journey.id);
    trainOf.set(journey.id, one.train);
    let known = identities.get(journey.id);
    if (known === undefined) {
      known = new Map();
      identities.set(journey.id, known);
    }
    const sideOfA = railOfSide(leg, 0) === one.railOfA ? 0 : 1;
    one.truth.forEach((axle, row) => {
      const number = leg.rosterOfRow[row]!;
      if (axle < 0) {
        if (number >= 0 && !known.has(number) && joined) result.lost++;
        return;
      }
      if (number < 0) {
        result.lost++;
        return;
      }
      const was = known.get(number);
      if (was === undefined) known.set(number, { axle, side: sideOfA });
      else if (was.axle === axle && was.side === sideOfA) result.same++;
      else result.lost++;
    });
    journeys.forget(one.pass.endedMs - 12 * 3_600_000);
  }
  return result;
}
