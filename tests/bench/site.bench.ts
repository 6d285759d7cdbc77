import type { BenchFigure } from "./figure.ts";
import { injuryOf } from "./sites/injuries.ts";
import { KINDS, type Kind } from "./sites/kinds.ts";
import { median, type Score, score } from "./sites/score.ts";
import { runWeek, type Week, weekRailroad } from "./sites/week.ts";

/** Faults of a kind in its week. */
const FAULTS = 3;
const DAYS = 7;
/** A cold start has one fault, and nothing is known before it. */
const COLD_DAYS = 3;
/** Weeks without any fault: what is raised in them is false. */
const SOUND_WEEKS = 12;

/**
 * Labelled simulated weeks: for every kind of fault how soon it was found, how often not at all, and what was raised for
 * nothing, beside plain time-outs and plain limits on means over the very same records. `ours` and `base` are hours to the
 * finding, middle of the faults found; a fault that a plain rule has no means for has no base.
 */
export async function siteBench(): Promise<BenchFigure[]> {
  const figures: BenchFigure[] = [];
  const scores: Score[] = [];
  KINDS.forEach((kind, k) => {
    const result = score(weekOf(kind, 100 + k));
    scores.push(result);
    figures.push(figureOf(kind.name, kind.goalHours, result));
  });
  const sound = Array.from({ length: SOUND_WEEKS }, (_, k) => score(runWeek(200 + k, 7, weekRailroad(200 + k), { labels: [] })));
  figures.push(
    falseFigure("false conditions a site-year, weeks without a fault", sound),
    falseFigure("false conditions a site-year, all weeks", [...scores, ...sound]),
  );
  return figures;
}

function weekOf(kind: Kind, seed: number): Week {
  const isCold = kind.coldStartHours !== undefined;
  const railroad = weekRailroad(seed, kind.doubleTrack === true ? 1 : undefined);
  const days = isCold ? COLD_DAYS : DAYS;
  return runWeek(seed, days, railroad, injuryOf(kind, railroad, seed, days, isCold ? 1 : (kind.count ?? FAULTS)));
}

function figureOf(name: string, goalHours: number | null, { found, missed, plainFound, plainMissed, falsely }: Score): BenchFigure {
  const ours = median(found);
  const base = median(plainFound);
  const worst = found.length === 0 ? "" : `, at the latest ${Math.max(...found).toFixed(1)} h`;
  const goal = goalHours === null ? "" : ` (goal ${goalHours} h)`;
  const plain = `plain rule: ${plainFound.length} found, ${plainMissed} missed`;
  const wrong =
    falsely.length === 0 ? "" : `; raised for nothing: ${[...new Set(falsely.map(({ site, kind }) => `${kind} at ${site}`))].join(", ")}`;
  return {
    name: `${name}: hours until found`,
    ours,
    base,
    ratio: ours / base,
    unit: "h",
    note: `${found.length} found, ${missed} missed${worst}${goal}; ${plain}${wrong}`,
  };
}

function falseFigure(name: string, scores: readonly Score[]): BenchFigure {
  const years = scores.reduce((sum, one) => sum + one.siteYears, 0);
  const falsely = scores.flatMap((one) => one.falsely);
  const ours = falsely.length / years;
  const base = scores.reduce((sum, one) => sum + one.plainFalsely, 0) / years;
  const kinds = [...new Set(falsely.map(({ kind }) => kind))].map((kind) => `${falsely.filter((one) => one.kind === kind).length} ${kind}`);
  return {
    name,
    ours,
    base,
    ratio: ours / base,
    unit: "a site-year",
    note: `over ${years.toFixed(1)} site-years (goal 1): ${kinds.join(", ") || "none"}`,
  };
}
