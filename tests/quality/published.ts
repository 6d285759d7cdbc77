import type { BearingReading } from "../../src/bearing/track.ts";
import type { BaselineView, SideFigures } from "../bench/baselines/baseline.ts";
import { PUBLISHED_RULES } from "../bench/baselines/published-rules.ts";
import type { TruePass } from "./true-readings.ts";

/** What a rule says when it has nothing to look at. */
const NOTHING = Number.NEGATIVE_INFINITY;

/**
 * Scores of every published rule for every bearing of a train at every pass, under true names: an advantage that the engine
 * does not have.
 */
export function publishedScores(
  passes: readonly TruePass[],
  keys: number,
  visit: (rule: number, passIndex: number, key: number, score: number) => void,
): void {
  const figures = [0, 1].map((side) => passes.map((pass): SideFigures => ({ meanF: pass.meanF[side]!, sdF: pass.sdF[side]! })));
  for (let axle = 0; axle < keys; axle += 2) {
    const views = [0, 1].map((side): BaselineView => ({ track: [], mate: [], side: figures[side]!, nextMiles: 0 }));
    const [left, right] = views as [BaselineView, BaselineView];
    left.mate = right.track;
    right.mate = left.track;
    for (const pass of passes) {
      left.track.push(reading(pass, axle));
      right.track.push(reading(pass, axle + 1));
      for (const side of [0, 1] as const) {
        const view = views[side]!;
        if (Number.isNaN(pass.riseF[axle + side]!)) continue;
        view.nextMiles = pass.nextMiles;
        for (let rule = 0; rule < PUBLISHED_RULES.length; rule++) {
          const score = PUBLISHED_RULES[rule]!.score(view);
          if (score > NOTHING) visit(rule, pass.index, axle + side, score);
        }
      }
    }
  }
}

/** Published rules look at the raw rise and the distance alone. */
function reading(pass: TruePass, key: number): BearingReading {
  return {
    miles: pass.miles,
    timeMs: 0,
    riseF: pass.riseF[key]!,
    excessF: Number.NaN,
    spreadF: Number.NaN,
    biasSdF: Number.NaN,
    mateExcessF: Number.NaN,
    vehicleExcessF: Number.NaN,
    wheelRiseF: Number.NaN,
    doubted: false,
  };
}
