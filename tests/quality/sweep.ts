import { type Median, medianOf, type Share, wilson } from "./intervals.ts";
import { type DevelopingCase, ENGINE, NUISANCE_KINDS, type Nuisance, type NuisanceKind, type RunOutcome, TRUE_NAMES } from "./outcome.ts";

/** Costs swept to: `warn` on bearings without a developing defect (each counted once a train's way), per 1,000 train passes. */
export const COSTS = [0.5, 1, 2, 5] as const;

export const GROUPS = {
  "slow and medium": ["slow", "medium"],
  slow: ["slow"],
  medium: ["medium"],
  fast: ["fast"],
  burst: ["burst"],
} as const;
export type Group = keyof typeof GROUPS;
export const GROUP_NAMES = Object.keys(GROUPS) as Group[];

/** One rule at one cost. */
export interface Cell {
  rule: string;
  /** null: the numbers of the rules file as they stand. */
  cost: number | null;
  threshold: number;
  nuisances: number;
  perThousand: number;
  early: Record<Group, Share>;
  /** Slow and medium bearings that were read at least twice before their deadline: what any trend could have told. */
  earlyOfSeen: Share;
  /** Miles from the first warn to the true crossing, and to the reading at the limit; slow and medium. */
  leadToCrossing: Median;
  leadToLimit: Median;
  kinds: Record<NuisanceKind, number>;
  /** Warns on the wrong bearing beside a live defect, of all bearings warned of. */
  beside: Share;
}

/** What a sweep looks at: the runs of one world, in order. */
export interface Pool {
  rules: string[];
  passes: number;
  cases: DevelopingCase[];
  nuisances: Nuisance[][];
}

export function poolOf(outcomes: readonly RunOutcome[]): Pool {
  const rules = outcomes[0]?.rules ?? [];
  return {
    rules,
    passes: outcomes.reduce((sum, one) => sum + one.passes, 0),
    cases: outcomes.flatMap((one) => one.cases),
    nuisances: rules.map((_, rule) => outcomes.flatMap((one) => one.nuisances[rule]!).sort((a, b) => b.score - a.score)),
  };
}

/** Every rule at every cost, and the engine as its rules file stands. */
export function sweep(pool: Pool): Cell[] {
  const cells: Cell[] = [];
  pool.rules.forEach((_, rule) => {
    for (const cost of COSTS) cells.push(cellAt(pool, rule, thresholdAt(pool, rule, cost), cost));
  });
  for (const name of [ENGINE, TRUE_NAMES]) if (pool.rules.includes(name)) cells.push(cellAt(pool, pool.rules.indexOf(name), 1, null));
  return cells;
}

/** Whether a bearing is warned of at a threshold. */
export function isWarned({ score, toldFrom }: Nuisance, threshold: number): boolean {
  return score >= threshold && toldFrom < threshold;
}

/** The lowest threshold such that at it and above a rule costs no more than this. */
export function thresholdAt(pool: Pool, rule: number, cost: number): number {
  const nuisances = pool.nuisances[rule]!;
  const allowed = Math.floor((cost * pool.passes) / 1_000);
  let lowest = Number.POSITIVE_INFINITY;
  for (let at = 0; at < nuisances.length; at++) {
    const threshold = nuisances[at]!.score;
    if (nuisances[at + 1]?.score === threshold) continue;
    let cost = 0;
    for (let i = 0; i <= at; i++) if (isWarned(nuisances[i]!, threshold)) cost++;
    if (cost > allowed) return lowest === Number.POSITIVE_INFINITY ? above(threshold) : lowest;
    lowest = threshold;
  }
  return lowest;
}

function above(score: number): number {
  return score + Math.abs(score) * 1e-9 + Number.MIN_VALUE;
}

function cellAt(pool: Pool, rule: number, threshold: number, cost: number | null): Cell {
  const warned = pool.nuisances[rule]!.filter((one) => isWarned(one, threshold));
  const first = pool.cases.map((one) => ({ one, miles: firstWarn(one, rule, threshold) }));
  const mainly = first.filter(({ one }) => one.class === "slow" || one.class === "medium");
  const hits = mainly.filter(({ miles }) => miles !== null);
  const seen = mainly.filter(({ one }) => one.readings >= 2);
  const toCrossing = hits.map(({ one, miles }) => one.crossingMile - miles!);
  const toLimit = hits.filter(({ one }) => one.limitMile !== null).map(({ one, miles }) => one.limitMile! - miles!);
  const early = {} as Record<Group, Share>;
  for (const group of GROUP_NAMES) {
    const of = first.filter(({ one }) => (GROUPS[group] as readonly string[]).includes(one.class));
    early[group] = wilson(of.filter(({ miles }) => miles !== null).length, of.length);
  }
  const kinds = Object.fromEntries(NUISANCE_KINDS.map((kind) => [kind, warned.filter((one) => one.kind === kind).length]));
  const allWarned = warned.length + first.filter(({ miles }) => miles !== null).length;
  return {
    rule: pool.rules[rule]!,
    cost,
    threshold,
    nuisances: warned.length,
    perThousand: (1_000 * warned.length) / pool.passes,
    early,
    earlyOfSeen: wilson(seen.filter(({ miles }) => miles !== null).length, seen.length),
    leadToCrossing: medianOf(toCrossing),
    leadToLimit: medianOf(toLimit),
    kinds: kinds as Record<NuisanceKind, number>,
    beside: wilson(warned.filter((one) => one.besideLive).length, allWarned),
  };
}

/** Mile of the first warn in time; null when there was none. */
export function firstWarn(one: DevelopingCase, rule: number, threshold: number): number | null {
  return one.chances.find((chance) => chance.scores[rule]! >= threshold)?.miles ?? null;
}

/** The published rules' best share of slow and medium bearings at a cost. */
export function bestPublished(cells: readonly Cell[], cost: number): Cell | null {
  let best: Cell | null = null;
  for (const cell of cells) {
    if (cell.cost !== cost || cell.rule === ENGINE || cell.rule === TRUE_NAMES) continue;
    if (best === null || cell.early["slow and medium"].hits > best.early["slow and medium"].hits) best = cell;
  }
  return best;
}

export function cellOf(cells: readonly Cell[], rule: string, cost: number | null): Cell {
  return cells.find((cell) => cell.rule === rule && cell.cost === cost)!;
}

/** Costs of the pictures, per 1,000 passes. */
const DRAWN_COSTS = [0.2, 0.35, 0.5, 0.7, 1, 1.4, 2, 3, 5, 8] as const;

/** One rule's line in the pictures. */
export interface RuleLine {
  rule: string;
  /** Cost against the share of slow and medium bearings warned of early. */
  early: { cost: number; share: number }[];
  /** At 1 per 1,000: miles from the first warn to the true crossing, slow and medium bearings, descending. */
  leads: number[];
}

export function linesOf(pool: Pool): RuleLine[] {
  const mainly = pool.cases.filter((one) => one.class === "slow" || one.class === "medium");
  return pool.rules.map((name, rule) => {
    const early = DRAWN_COSTS.map((cost) => {
      const threshold = thresholdAt(pool, rule, cost);
      const hits = mainly.filter((one) => firstWarn(one, rule, threshold) !== null).length;
      return { cost, share: hits / mainly.length };
    });
    const threshold = thresholdAt(pool, rule, 1);
    const leads = mainly.flatMap((one) => {
      const miles = firstWarn(one, rule, threshold);
      return miles === null ? [] : [Math.round((one.crossingMile - miles) * 10) / 10];
    });
    return { rule: name, early, leads: leads.sort((a, b) => b - a) };
  });
}
