import type { BearingTruth } from "../../src/simulate/truth.ts";
import type { ChanceBin } from "./outcome.ts";
import type { TrainScores } from "./score-train.ts";
import { bearingKey, type LookNote } from "./train-case.ts";

export const TENTHS = 10;
/** As the simulator's `crossing` has it, °F above ambient (me_fac/185 [P]). */
const LIMIT_F = 170;

/** Stated chances of reaching the limit before the next site, held against what truly came. */
export class ChanceAccount {
  readonly bins: ChanceBin[] = Array.from({ length: TENTHS }, () => ({ count: 0, stated: 0, observed: 0 }));

  train(scores: TrainScores): void {
    const truths = new Map(scores.train.bearings.map((truth) => [bearingKey(truth.axle, truth.side), truth]));
    for (const [key, looks] of scores.looks) {
      for (const [index, look] of looks) {
        if (look.outlook === null || look.now === "limit" || isOver(scores, truths.get(key), key, index)) continue;
        const came = reached(scores, truths.get(key), index, look);
        if (came === null) continue;
        const stated = look.outlook.chanceNext;
        const bin = this.bins[Math.min(TENTHS - 1, Math.floor(stated * TENTHS))]!;
        bin.count++;
        bin.stated += stated;
        bin.observed += came ? 1 : 0;
      }
    }
  }
}

/**
 * Nothing is left to foretell: the defective bearing is off the train (set out, or its wheelset changed), or an earlier site read
 * it at the limit and its train was stopped.
 */
function isOver(scores: TrainScores, truth: BearingTruth | undefined, key: number, index: number): boolean {
  if (truth === undefined) return false;
  const { id, miles } = scores.train.passes[index]!.truth;
  if (!truth.atPasses.some((point) => point.pass === id)) return true;
  return scores.passes.some((pass) => pass.miles < miles && pass.riseF[key]! >= LIMIT_F);
}

/** Whether the true rise reached the limit on the way that the look spoke of; null when nobody knows: the train or the car went no further. */
function reached(scores: TrainScores, truth: BearingTruth | undefined, index: number, look: LookNote): boolean | null {
  const miles = scores.train.passes[index]!.truth.miles;
  const until = miles + look.nextMiles;
  if (truth?.crossing != null && truth.crossing.mile <= until) return true;
  const lastMile = scores.train.truth?.miles ?? miles;
  const leftMile = truth?.setOutMile ?? lastMile;
  return Math.min(lastMile, leftMile) >= until ? false : null;
}

/** The 80 % interval of the crossing, in looks that warn as the rules stand, of bearings that truly crossed later. */
export class CrossingAccount {
  readonly counts = { count: 0, held: 0, early: 0, late: 0 };

  train(scores: TrainScores): void {
    for (const truth of scores.train.bearings) {
      if (truth.crossing === null) continue;
      const looks = scores.looks.get(bearingKey(truth.axle, truth.side));
      for (const [index, look] of looks ?? []) {
        const crossing = look.outlook?.crossing ?? null;
        const miles = truth.crossing.mile - scores.train.passes[index]!.truth.miles;
        if (crossing === null || look.now === "limit" || look.factor < 1 || miles <= 0) continue;
        this.counts.count++;
        if (miles < crossing.low) this.counts.early++;
        else if (miles > crossing.high) this.counts.late++;
        else this.counts.held++;
      }
    }
  }
}
