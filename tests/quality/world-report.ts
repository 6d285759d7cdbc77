import type { DefectClass } from "../../src/simulate/truth.ts";
import { type Median, medianOf, type Share, wilson } from "./intervals.ts";
import { type ChanceBin, type DevelopingCase, ENGINE, type JoinCounts, type RunOutcome, TRUE_NAMES } from "./outcome.ts";
import { bestPublished, type Cell, cellOf, linesOf, poolOf, type RuleLine, sweep } from "./sweep.ts";
import { type Miss, misses, nuisances, type WorstNuisance } from "./worst.ts";

export interface ReliabilityRow {
  from: number;
  stated: number;
  observed: Share;
  /** The stated mean lies within the observed share's interval. */
  holds: boolean;
}

export interface Reliability {
  rows: ReliabilityRow[];
  looks: number;
  /** Expected calibration error: mean distance of stated and observed, by number of looks. */
  ece: number;
  /** The same without the lowest tenth, where nearly all looks are. */
  eceAboveFirst: number;
}

export interface JoinReport {
  passes: number;
  right: Share;
  wrongPer100k: number;
  skippedPer100k: number;
  undoneSaidPer100k: number;
  undoneSilentPer100k: number;
  latePer100k: number;
}

/** One world's table. */
export interface WorldReport {
  world: string;
  seeds: string;
  hours: number;
  trains: number;
  passes: number;
  axles: number;
  developing: number;
  crossed: number;
  cells: Cell[];
  /** The engine's share of slow and medium at 1 per 1,000 over the best published rule's; infinite when that finds nothing. */
  timesBest: number;
  bestRule: string;
  /** The same for the engine given the true names, and for whoever knows the true curves: what the joining costs, and the most there can be. */
  timesTrueNames: number;
  timesBound: number;
  /** What the same decision would warn of early with the true curves known: no engine can do better. */
  bound: { mainly: Share; fast: Share };
  /** Bearings that trip a plain limit without a defect. */
  trips: Share;
  chance: Reliability;
  crossing: { share: Share; early: number; late: number };
  limits: { share: Share; missed: string[] };
  joins: { withId: JoinReport; withoutId: JoinReport; all: JoinReport };
  wrongJoins: string[];
  undoneJoins: string[];
  identity: { readings: Share; whole: Share; unnamedRows: Share };
  cars: Share;
  carConfidence: Reliability;
  bias: { sound: Median; sick: Median; soundScanners: number; sickScanners: number; unlearned: number };
  lines: RuleLine[];
  misses: { worst: Miss[]; byCause: Record<string, number> };
  nuisances: { worst: WorstNuisance[]; byCause: Record<string, number> };
  /** Slow and medium bearings that reached the limit. */
  mainly: number;
  rejected: number;
  seconds: number;
}

export function reportOf(outcomes: readonly RunOutcome[]): WorldReport {
  const first = outcomes[0]!;
  const sum = (pick: (one: RunOutcome) => number): number => outcomes.reduce((total, one) => total + pick(one), 0);
  const pool = poolOf(outcomes);
  const cells = sweep(pool);
  const best = bestPublished(cells, 1)!;
  const bestShare = best.early["slow and medium"].share;
  const engine = cellOf(cells, ENGINE, 1);
  const bound = { mainly: knowable(pool.cases, ["slow", "medium"]), fast: knowable(pool.cases, ["fast"]) };
  const sound = outcomes.flatMap((one) => one.biasErrorF.sound.map(Math.abs));
  const sick = outcomes.flatMap((one) => one.biasErrorF.sick.map(Math.abs));
  return {
    world: first.world,
    seeds: outcomes.length === 1 ? `${first.seed}` : `${first.seed}..${outcomes.at(-1)!.seed}`,
    hours: first.hours,
    trains: sum((one) => one.trains),
    passes: sum((one) => one.passes),
    axles: sum((one) => one.axles),
    developing: sum((one) => one.developing),
    crossed: sum((one) => one.cases.length),
    cells,
    timesBest: engine.early["slow and medium"].share / bestShare,
    bestRule: best.rule,
    timesTrueNames: cellOf(cells, TRUE_NAMES, 1).early["slow and medium"].share / bestShare,
    timesBound: bound.mainly.share / bestShare,
    bound,
    trips: wilson(
      sum((one) => one.trips.withoutDefect),
      sum((one) => one.trips.withoutDefect + one.trips.withDefect),
    ),
    chance: reliability(addBins(outcomes.map((one) => one.chance))),
    crossing: {
      share: wilson(
        sum((one) => one.crossing.held),
        sum((one) => one.crossing.count),
      ),
      early: sum((one) => one.crossing.early),
      late: sum((one) => one.crossing.late),
    },
    limits: {
      share: wilson(
        sum((one) => one.limits.reported),
        sum((one) => one.limits.readings),
      ),
      missed: outcomes.flatMap((one) => one.limits.missed.map((words) => `seed ${one.seed}: ${words}`)),
    },
    joins: {
      withId: joinReport(outcomes.map((one) => one.joins.withId)),
      withoutId: joinReport(outcomes.map((one) => one.joins.withoutId)),
      all: joinReport(outcomes.flatMap((one) => [one.joins.withId, one.joins.withoutId])),
    },
    wrongJoins: outcomes.flatMap((one) => one.wrongJoins.map((words) => `seed ${one.seed}: ${words}`)),
    undoneJoins: outcomes.flatMap((one) => one.undoneJoins.map((words) => `seed ${one.seed}: ${words}`)),
    identity: {
      readings: wilson(
        sum((one) => one.identity.readings - one.identity.wrongReadings),
        sum((one) => one.identity.readings),
      ),
      whole: wilson(
        sum((one) => one.identity.wholeBearings),
        sum((one) => one.identity.bearings),
      ),
      unnamedRows: wilson(
        sum((one) => one.identity.unnamedRows),
        sum((one) => one.identity.namedRows + one.identity.unnamedRows),
      ),
    },
    cars: wilson(
      sum((one) => one.vehicles.plain.right),
      sum((one) => one.vehicles.plain.cars),
    ),
    carConfidence: reliability(addBins(outcomes.map((one) => one.vehicles.plain.confidence))),
    bias: {
      sound: medianOf(sound),
      sick: medianOf(sick),
      soundScanners: sound.length,
      sickScanners: sick.length,
      unlearned: sum((one) => one.biasErrorF.unlearned),
    },
    lines: linesOf(pool),
    misses: misses(outcomes, cells),
    nuisances: nuisances(outcomes, cells),
    mainly: engine.early["slow and medium"].of,
    rejected: sum((one) => one.rejected),
    seconds: sum((one) => one.milliseconds) / 1_000,
  };
}

function knowable(cases: readonly DevelopingCase[], classes: readonly DefectClass[]): Share {
  const of = cases.filter((one) => classes.includes(one.class));
  return wilson(of.filter((one) => one.knowable).length, of.length);
}

function addBins(runs: readonly (readonly ChanceBin[])[]): ChanceBin[] {
  const bins = (runs[0] ?? []).map(() => ({ count: 0, stated: 0, observed: 0 }));
  for (const run of runs) {
    run.forEach((bin, at) => {
      bins[at]!.count += bin.count;
      bins[at]!.stated += bin.stated;
      bins[at]!.observed += bin.observed;
    });
  }
  return bins;
}

export function reliability(bins: readonly ChanceBin[]): Reliability {
  const rows: ReliabilityRow[] = [];
  bins.forEach(({ count, stated, observed }, at) => {
    if (count === 0) return;
    const share = wilson(observed, count);
    const mean = stated / count;
    rows.push({ from: at / bins.length, stated: mean, observed: share, holds: mean >= share.low && mean <= share.high });
  });
  return {
    rows,
    looks: bins.reduce((total, bin) => total + bin.count, 0),
    ece: calibrationError(rows),
    eceAboveFirst: calibrationError(rows.filter((row) => row.from > 0)),
  };
}

function calibrationError(rows: readonly ReliabilityRow[]): number {
  const looks = rows.reduce((total, row) => total + row.observed.of, 0);
  return rows.reduce((total, row) => total + (row.observed.of * Math.abs(row.stated - row.observed.share)) / looks, 0);
}

function joinReport(counts: readonly JoinCounts[]): JoinReport {
  const sum = (pick: (one: JoinCounts) => number): number => counts.reduce((total, one) => total + pick(one), 0);
  const passes = sum((one) => one.passes);
  const per100k = (pick: (one: JoinCounts) => number): number => (100_000 * sum(pick)) / passes;
  return {
    passes,
    right: wilson(
      sum((one) => one.right),
      passes - sum((one) => one.late),
    ),
    wrongPer100k: per100k((one) => one.wrong),
    skippedPer100k: per100k((one) => one.skipped),
    undoneSaidPer100k: per100k((one) => one.undoneSaid),
    undoneSilentPer100k: per100k((one) => one.undoneSilent),
    latePer100k: per100k((one) => one.late),
  };
}
