import type { HeatKind, Outlook } from "../../src/bearing/track.ts";
import { threshold } from "../../src/warning/chances.ts";
import type { Chances, Rules } from "../../src/warning/rule-set.ts";

/**
 * How much a look is worth on one scale, for sweeping: the factor by which the rules' three `warn` numbers would have to be
 * multiplied for exactly this look to warn. 1 and more: it warns as the rules stand. 0: no factor makes it warn (too few
 * readings, or heat that is not a bearing's). This is the decision of `warning/decide.ts` with its numbers on a slide; what
 * reached a hard limit is not looked at here.
 */
export function warnFactor(outlook: Outlook | null, heat: HeatKind, readings: number, weight: number, rules: Rules): number {
  if (outlook === null) return 0;
  if (heat !== "bearing" && heat !== "none") return 0;
  const { warn } = rules.levels;
  if (readings < warn.minimumReadings) return 0;
  return factorOf(outlook, warn.raise, weight);
}

function factorOf(outlook: Outlook, raise: Chances, weight: number): number {
  return Math.max(
    outlook.chanceNext / threshold(raise.beforeNextSite, weight),
    outlook.chanceNextButOne / threshold(raise.beforeNextButOne, weight),
    outlook.rising / threshold(raise.rising, 1),
  );
}
