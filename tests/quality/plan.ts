import { readLine } from "../../src/line/line-file.ts";
import { formatMistakes } from "../../src/line/mistake.ts";
import type { Railroad } from "../../src/line/railroad.ts";
import { inventLine, SPARSE_MILES, USUAL_MILES } from "../../src/simulate/invent-line.ts";
import type { WorldName } from "../../src/simulate/worlds.ts";

/**
 * Seeds are kept apart: the engine's numbers may be fitted on days of the first range only, and the table that is shown is
 * made of days of the second. A seed makes everything of a day: the railroad, its scanners, its trains and what ails them.
 */
export const FITTING_SEEDS = { from: 1, to: 999 } as const;
export const REPORTING_SEEDS = { from: 1001, to: 9999 } as const;

export const WORLD_NAMES: readonly WorldName[] = ["ordinary", "sparse", "sick", "winter", "mixed"];

/** Days of the full and of the small measurement by world: the ordinary world carries most of the goals. */
export const FULL_SEEDS: Readonly<Record<WorldName, number>> = { ordinary: 14, sparse: 5, sick: 5, winter: 5, mixed: 5 };
export const SMALL_SEEDS: Readonly<Record<WorldName, number>> = { ordinary: 2, sparse: 0, sick: 0, winter: 0, mixed: 1 };

/** Two days: the scanners' bias is not known at first, and a slow defect takes a train's whole way. */
export const HOURS = 48;
export const SMALL_HOURS = 30;
export const TRAINS_PER_DAY = 70;
/** Axles a record. Only speed depends on it: how axles are grouped changes no decision. */
export const GROUP = 32;

/** Both railroads are about 350 miles long. */
const SITES = 24;
const SPARSE_SITES = 12;
const DOUBLE_SHARE = 0.5;
/**
 * Sites of the neighbouring corridor that each corridor reads too: some 110 miles, most of the way that a slow rise takes. With
 * two (30 miles) a bearing that warmed up before the border was new to the corridor behind it, which cost one early warn in
 * twenty in the ordinary world and one in five among sick scanners.
 */
const LEAD_IN_SITES = 8;

/** One simulated spell of one world. */
export interface Run {
  world: WorldName;
  seed: number;
  hours: number;
}

export interface Wishes {
  worlds: readonly WorldName[];
  /** null: as many as the measurement usually has. */
  seeds: { from: number; to: number } | null;
  hours: number | null;
  small: boolean;
}

/** The runs of a measurement, by world and seed. */
export function runsOf(wishes: Wishes): Run[] {
  const usual = wishes.small ? SMALL_SEEDS : FULL_SEEDS;
  const hours = wishes.hours ?? (wishes.small ? SMALL_HOURS : HOURS);
  const runs: Run[] = [];
  for (const world of wishes.worlds) {
    // A world that was asked for is measured, whatever the usual number of its days.
    const count = wishes.worlds.length === 1 ? Math.max(1, usual[world]) : usual[world];
    const { from, to } = wishes.seeds ?? { from: REPORTING_SEEDS.from, to: REPORTING_SEEDS.from + count - 1 };
    for (let seed = from; seed <= to; seed++) runs.push({ world, seed, hours });
  }
  return runs;
}

/** Whether a measurement may be shown as the engine's: none of its days was open to fitting. */
export function isForReporting(runs: readonly Run[]): boolean {
  return runs.every(({ seed }) => seed >= REPORTING_SEEDS.from && seed <= REPORTING_SEEDS.to);
}

/** The railroad of a run: invented anew from every seed. */
export function railroadOf({ world, seed }: Run): Railroad {
  const sparse = world === "sparse";
  const miles = sparse ? SPARSE_MILES : USUAL_MILES;
  const text = inventLine({ seed, sites: sparse ? SPARSE_SITES : SITES, ...miles, doubleShare: DOUBLE_SHARE, leadInSites: LEAD_IN_SITES });
  const { railroad, mistakes } = readLine(text, `invented line, seed ${seed}`);
  if (railroad === null) throw new Error(`the invented line is refused:\n${formatMistakes(mistakes)}`);
  return railroad;
}
