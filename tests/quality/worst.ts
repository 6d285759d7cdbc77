import type { DevelopingCase, Nuisance, RunOutcome } from "./outcome.ts";
import { ENGINE, TRUE_NAMES } from "./outcome.ts";
import { type Cell, cellOf, firstWarn, isWarned } from "./sweep.ts";

/** Cost at which misses and nuisances are shown. */
export const SHOWN_COST = 1;
const SHOWN = 10;

/** Readings this far under the truth are called under-reads when a miss is explained, °F. */
const UNDER_READ_F = 25;
/** A rise under this at the last site before the deadline: nearly all of it came inside one gap, °F above ambient. */
const UNREMARKABLE_F = 65;
/** A score with the true names under this share of the engine's: the joining made it. */
const JOINING_SHARE = 0.5;

export interface Miss {
  seed: number;
  cause: string;
  /** Highest factor before the deadline, by the engine and by the engine with the true names. */
  best: number;
  bestTrueNames: number;
  one: DevelopingCase;
}

export interface WorstNuisance {
  seed: number;
  cause: string;
  one: Nuisance;
}

/** What the engine lost of slow, medium and fast bearings at one cost, by cause, and the ten that had most to see. */
export function misses(outcomes: readonly RunOutcome[], cells: readonly Cell[]): { worst: Miss[]; byCause: Record<string, number> } {
  const engine = cellOf(cells, ENGINE, SHOWN_COST).threshold;
  const trueNames = cellOf(cells, TRUE_NAMES, SHOWN_COST).threshold;
  const found: Miss[] = [];
  for (const { seed, rules, cases } of outcomes) {
    const [own, named] = [rules.indexOf(ENGINE), rules.indexOf(TRUE_NAMES)];
    for (const one of cases) {
      if (one.class === "burst" || firstWarn(one, own, engine) !== null) continue;
      const best = Math.max(0, ...one.chances.map((chance) => chance.scores[own]!));
      const bestTrueNames = Math.max(0, ...one.chances.map((chance) => chance.scores[named]!));
      found.push({ seed, cause: causeOfMiss(one, bestTrueNames >= trueNames), best, bestTrueNames, one });
    }
  }
  found.sort((a, b) => seenRise(b.one) - seenRise(a.one));
  return { worst: found.slice(0, SHOWN), byCause: counted(found) };
}

/** How much there was to see: the sum of what was read over 60 °F before the deadline. */
function seenRise(one: DevelopingCase): number {
  const until = one.chances.at(-1)?.miles ?? Number.NEGATIVE_INFINITY;
  const visible = one.curve.filter((point) => point.miles <= until && (point.riseF ?? 0) > UNREMARKABLE_F);
  return visible.reduce((sum, point) => sum + point.riseF! - UNREMARKABLE_F, 0);
}

function causeOfMiss(one: DevelopingCase, trueNamesWarn: boolean): string {
  if (trueNamesWarn) return "joining: with the true names it would have warned";
  if (one.readings < 2) return "read fewer than twice before";
  const until = one.chances.at(-1)!.miles;
  const before = one.curve.filter((point) => point.miles <= until && point.riseF !== null);
  const last = before.at(-1)!;
  if ((last.trueF ?? 0) < UNREMARKABLE_F) return "unremarkable at the last site before: it rose inside one gap";
  if ((last.trueF ?? 0) - last.riseF! > UNDER_READ_F) return "under-read at the last site before";
  if (before.some((point) => point.heat === "brakes")) return "taken for brakes";
  if (before.some((point) => point.heat === "scanner" || point.heat === "sun")) return "taken for a scanner or the sun";
  if (last.factor === null) return "not looked at: under the screen";
  return "model or threshold: seen, judged too little";
}

/** The ten nuisances of the engine that would be the last to go, and all at the shown cost by cause. */
export function nuisances(
  outcomes: readonly RunOutcome[],
  cells: readonly Cell[],
): { worst: WorstNuisance[]; byCause: Record<string, number> } {
  const { threshold } = cellOf(cells, ENGINE, SHOWN_COST);
  const found = outcomes.flatMap(({ seed, rules, nuisances }) =>
    nuisances[rules.indexOf(ENGINE)]!.filter((one) => isWarned(one, threshold)).map((one) => ({ seed, cause: causeOfNuisance(one), one })),
  );
  found.sort((a, b) => b.one.score - a.one.score);
  return { worst: found.slice(0, SHOWN), byCause: counted(found) };
}

function causeOfNuisance(one: Nuisance): string {
  if (one.besideLive) return "beside a live defect: the wrong bearing";
  if (one.trueNamesScore < JOINING_SHARE * one.score) return "joining: under its true name it would not have been told of";
  switch (one.kind) {
    case "roll-over":
    case "plateau":
      return "a trend that ended by itself";
    case "warm":
      return "a warm runner";
    case "brakes":
      return "brakes";
    case "sun":
    case "scanner":
      return "levels: sun or a sick scanner";
    default:
      return "an ordinary bearing: levels or model";
  }
}

function counted(found: readonly { cause: string }[]): Record<string, number> {
  const counts: Record<string, number> = {};
  for (const { cause } of found) counts[cause] = (counts[cause] ?? 0) + 1;
  return Object.fromEntries(Object.entries(counts).sort((a, b) => b[1] - a[1]));
}
