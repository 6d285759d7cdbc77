import type { HeatKind } from "../../src/bearing/track.ts";
import { type ChancesAhead, threshold, weighedWithin } from "../../src/warning/chances.ts";
import type { FartherChances, Rules } from "../../src/warning/rule-set.ts";

/**
 * How much a look is worth on one scale, for sweeping: the factor by which the numbers that raise a `warn` would have to be
 * multiplied for exactly this look to warn. 1 and more: it warns as the rules stand. 0: no factor makes it warn (too few
 * readings, heat that is not a bearing's, or nothing known). This is the decision of `warning/decide.ts` with its numbers on a slide;
 * what reached a hard limit is not looked at here. `goesBy`: Decision.onItsWay, for a look without a reading what was told before.
 */
export function warnFactor(goesBy: ChancesAhead | null, heat: HeatKind, readings: number, weight: number, rules: Rules): number {
  if (goesBy === null) return 0;
  if (heat !== "bearing" && heat !== "none") return 0;
  const { warn } = rules.levels;
  if (readings < warn.minimumReadings) return 0;
  return factorOf(goesBy, warn.raise, weight);
}

function factorOf(goesBy: ChancesAhead, raise: FartherChances, weight: number): number {
  const within = raise.within === undefined ? 0 : weighedWithin(goesBy, raise, weight) / threshold(raise.within.chance, 1);
  return Math.max(
    goesBy.chanceNext / threshold(raise.beforeNextSite, weight),
    goesBy.chanceNextButOne / threshold(raise.beforeNextButOne, weight),
    within,
    goesBy.rising / threshold(raise.rising, 1),
  );
}
