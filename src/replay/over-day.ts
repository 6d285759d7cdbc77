import type { SiteCondition } from "../site/condition.ts";
import type { CorridorPart } from "./corridor-account.ts";
import { DAY_LIMITS, type Day, type DoubtedJoin, highestLevel, type TrainLine, type WarningStory } from "./day.ts";
import type { Narrow } from "./narrow.ts";
import { inOrderOfReach, joinOverCorridors } from "./over-corridors.ts";

/** What a day's account says of all corridors together. */
type OverDay = Pick<Day, "span" | "passes" | "joins" | "doubts" | "warnings" | "conditions" | "trains" | "overflow">;

/**
 * The accounts of all corridors as one, in an order that follows from them alone. What is over the limit of a day is left out:
 * of passes, conditions and doubts the latest, of warnings first those that never got over `watch`.
 * @param parts in the order of the line file
 */
export function overDay(parts: readonly CorridorPart[], narrow: Narrow): OverDay {
  const stories = joinOverCorridors(parts.flatMap((part) => part.stories)).sort(inOrderOfReach);
  const warnings = keptStories(stories);
  const points = parts.flatMap(({ corridor, points }) => points.map((point) => ({ corridor, ...point }))).sort(inOrderOfTime);
  const conditions = parts.flatMap((part) => part.conditions).sort(compareConditions);
  const doubts = parts.flatMap((part) => part.doubts).sort(inOrderOfTime);
  const count = sum(parts, ({ passes }) => passes);
  const over = (what: keyof Day["overflow"], all: number, limit: number) =>
    sum(parts, (part) => part.over[what]) + Math.max(0, all - limit);
  return {
    span: count === 0 ? null : { fromMs: Math.min(...parts.map((part) => part.fromMs)), toMs: Math.max(...parts.map((part) => part.toMs)) },
    passes: { count, flags: summed(parts.map((part) => part.flags)) },
    joins: joinsOf(parts),
    doubts: doubts.slice(0, DAY_LIMITS.doubts).map(({ pass, kind, words }): DoubtedJoin => ({ pass, kind, words })),
    warnings: warnings.filter((story) => narrow.story(story)),
    conditions: conditions.slice(0, DAY_LIMITS.conditions),
    trains: trainsOf(points.slice(0, DAY_LIMITS.passPoints)),
    overflow: {
      warnings: over("warnings", stories.length, DAY_LIMITS.warnings),
      doubts: over("doubts", doubts.length, DAY_LIMITS.doubts),
      passPoints: over("passPoints", points.length, DAY_LIMITS.passPoints),
      conditions: over("conditions", conditions.length, DAY_LIMITS.conditions),
    },
  };
}

function keptStories(stories: WarningStory[]): WarningStory[] {
  if (stories.length <= DAY_LIMITS.warnings) return stories;
  const [above, watched] = [
    stories.filter((story) => highestLevel(story) !== "watch"),
    stories.filter((story) => highestLevel(story) === "watch"),
  ];
  return [...above, ...watched].slice(0, DAY_LIMITS.warnings).sort(inOrderOfReach);
}

function joinsOf(parts: readonly CorridorPart[]): Day["joins"] {
  const joins = { placed: 0, made: 0, flipped: 0, directionDoubted: 0, edited: 0 };
  for (const part of parts) for (const name of Object.keys(joins) as (keyof typeof joins)[]) joins[name] += part.joins[name];
  return { ...joins, doubts: summed(parts.map((part) => part.joins.doubts)) };
}

type CorridorPoint = CorridorPart["points"][number] & { corridor: string };

function trainsOf(points: readonly CorridorPoint[]): TrainLine[] {
  const lines = new Map<string, TrainLine>();
  for (const { corridor, journey, train, ...point } of points) {
    const key = `${corridor} ${journey ?? point.pass}`;
    let line = lines.get(key);
    if (line === undefined) {
      line = { corridor, journey, train, points: [] };
      lines.set(key, line);
    }
    line.train ??= train;
    line.points.push(point);
  }
  return [...lines.values()];
}

/** A pass in two corridors stays in the order of the corridors. */
function inOrderOfTime(a: { timeMs: number; pass: string }, b: { timeMs: number; pass: string }): number {
  return a.timeMs - b.timeMs || (a.pass < b.pass ? -1 : a.pass > b.pass ? 1 : 0);
}

function compareConditions(a: SiteCondition, b: SiteCondition): number {
  return a.raisedAt < b.raisedAt ? -1 : a.raisedAt > b.raisedAt ? 1 : a.id < b.id ? -1 : 1;
}

/** Counts by name, added up, in the order of the names. */
function summed(counts: readonly Record<string, number>[]): Record<string, number> {
  const all: Record<string, number> = {};
  for (const one of counts) for (const [name, count] of Object.entries(one)) all[name] = (all[name] ?? 0) + count;
  return Object.fromEntries(Object.entries(all).sort(([a], [b]) => (a < b ? -1 : 1)));
}

function sum<T>(parts: readonly T[], count: (part: T) => number): number {
  return parts.reduce((total, part) => total + count(part), 0);
}
