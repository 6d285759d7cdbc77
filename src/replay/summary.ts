import type { SiteCondition } from "../site/condition.ts";
import type { AlarmState, Level, Warning } from "../warning/warning.ts";
import { cameToNothing, type Day, type Ending, highestLevel, limitWithoutWarn, milesOf, type Reached, type WarningStory } from "./day.ts";

/** One warning in the summary. Temperatures °F above ambient. */
export interface SummaryWarning {
  id: string;
  /** Ids under which other corridors warned of the same bearing. */
  also: string[];
  /** The highest it had. */
  level: Level;
  state: AlarmState;
  firstWatch: string | null;
  firstWarn: string | null;
  firstLimit: string | null;
  /** Miles from the first `warn` to the reading at the limit; null when either is missing. */
  leadMiles: number | null;
  train: string | null;
  /** What the version said that first gave the highest level. */
  told: Pick<
    Warning,
    | "time"
    | "corridor"
    | "journey"
    | "site"
    | "track"
    | "axle"
    | "side"
    | "place"
    | "heat"
    | "riseF"
    | "limitF"
    | "slopeFPerMile"
    | "crossing"
    | "setOut"
    | "advice"
    | "rules"
  > & { chanceBeforeNextSite: number };
  /** Where it stood at the end. */
  last: Pick<Warning, "time" | "site" | "axle" | "side" | "riseF">;
  ending: Ending;
  versions: number;
  corrections: number;
}

/** `summary.json`. Says nothing of the machine or of how long the replay took: the same day gives the same bytes. */
export interface Summary {
  type: "replay-summary";
  version: 1;
  railroad: { id: string; name: string; demonstration: boolean };
  rules: string[];
  narrowed: string | null;
  /** How much there is of what the report was narrowed to; of everything when it is whole. */
  reported: { trains: number; warnings: number; conditions: number };
  /** Where the feed broke off: everything here is what could be read up to there. Null when it was read to its end. */
  cutShort: { code: string; feed: string; line: number; byte: number } | null;
  span: { from: string; to: string } | null;
  records: Day["records"] & { accounted: boolean };
  axles: number;
  bearingsFollowed: number;
  passes: Day["passes"];
  joins: Day["joins"];
  warnings: {
    byLevel: Record<Level, number>;
    byEnding: Partial<Record<Ending, number>>;
    limitWithoutEarlierWarn: string[];
    cameToNothing: string[];
    list: SummaryWarning[];
  };
  conditions: { raised: number; open: number; byKind: Record<string, number>; list: SummaryCondition[] };
  rejected: { reason: string; count: number }[];
  /** What there was too much of to keep: these are missing from the lists above. */
  overflow: Day["overflow"];
  caution: string;
}

export interface SummaryCondition {
  id: string;
  site: string;
  device: string;
  kind: SiteCondition["kind"];
  state: SiteCondition["state"];
  raisedAt: string;
  time: string;
  words: string;
}

/** Stands wherever a result of a replay is shown; each warning carries its own from the rules file. */
export const CAUTION =
  "This is advice from recorded readings. The site's own alarm, the operating rules and qualified people govern. No warning does not mean a sound bearing.";

/** The summary of a day. Pure. */
export function summaryOf(day: Day): Summary {
  const { id, name, demonstration } = day.railroad;
  const standing = day.warnings.filter((story) => story.ending !== "withdrawn");
  const byLevel: Record<Level, number> = { limit: 0, warn: 0, watch: 0 };
  for (const story of standing) byLevel[highestLevel(story)]++;
  return {
    type: "replay-summary",
    version: 1,
    railroad: { id, name, demonstration },
    rules: day.rules,
    narrowed: day.narrowed,
    reported: { trains: day.trains.length, warnings: day.warnings.length, conditions: day.conditions.length },
    cutShort: cutShortOf(day.cutShort),
    span: day.span === null ? null : { from: iso(day.span.fromMs), to: iso(day.span.toMs) },
    records: { ...day.records, accounted: accounted(day) },
    axles: day.axles,
    bearingsFollowed: day.bearingsFollowed,
    passes: day.passes,
    joins: day.joins,
    warnings: {
      byLevel,
      byEnding: tally(day.warnings.map((story) => story.ending)),
      limitWithoutEarlierWarn: limitWithoutWarn(day).map((story) => story.last.id),
      cameToNothing: cameToNothing(day).map((story) => story.last.id),
      list: day.warnings.map(summaryWarning),
    },
    conditions: {
      raised: day.conditions.length,
      open: day.conditions.filter((condition) => condition.state === "raised").length,
      byKind: tally(day.conditions.map((condition) => condition.kind)),
      list: day.conditions.map(summaryCondition),
    },
    rejected: day.rejected.map(({ reason, count }) => ({ reason, count })),
    overflow: day.overflow,
    caution: CAUTION,
  };
}

/** Whether every record that was read is used, late, repeated or rejected. */
export function accounted(day: Day): boolean {
  const { used, late, repeated, rejected } = day.records.outcomes;
  return day.records.read === used + late + repeated + rejected;
}

/** Miles from the first `warn` to the reading at the limit, when there were both and in this order. */
export function leadMiles(story: WarningStory): number | null {
  if (story.warn === null || story.limit === null) return null;
  const miles = milesOf(story, story.limit) - milesOf(story, story.warn);
  return miles > 0 ? Math.round(miles * 100) / 100 : null;
}

function summaryWarning(story: WarningStory): SummaryWarning {
  const { last, told } = story;
  return {
    id: last.id,
    also: story.also,
    level: highestLevel(story),
    state: last.state,
    firstWatch: timeOf(story.watch),
    firstWarn: timeOf(story.warn),
    firstLimit: timeOf(story.limit),
    leadMiles: leadMiles(story),
    train: last.train,
    told: {
      time: told.time,
      corridor: told.corridor,
      journey: told.journey,
      site: told.site,
      track: told.track,
      axle: told.axle,
      side: told.side,
      place: told.place,
      heat: told.heat,
      riseF: told.riseF,
      limitF: told.limitF,
      slopeFPerMile: told.slopeFPerMile,
      chanceBeforeNextSite: told.chances.beforeNextSite,
      crossing: told.crossing,
      setOut: told.setOut,
      advice: told.advice,
      rules: told.rules,
    },
    last: { time: last.time, site: last.site, axle: last.axle, side: last.side, riseF: last.riseF },
    ending: story.ending,
    versions: story.versions,
    corrections: story.corrections,
  };
}

function summaryCondition({ id, site, device, kind, state, raisedAt, time, words }: SiteCondition): SummaryCondition {
  return { id, site, device, kind, state, raisedAt, time, words };
}

function cutShortOf(error: Day["cutShort"]): Summary["cutShort"] {
  return error === null ? null : { code: error.code, feed: error.file, line: error.line, byte: error.byte };
}

function timeOf(reached: Reached | null): string | null {
  return reached === null ? null : iso(reached.timeMs);
}

function iso(ms: number): string {
  return new Date(ms).toISOString();
}

function tally<K extends string>(keys: readonly K[]): Record<K, number> {
  const counts = {} as Record<K, number>;
  for (const key of [...keys].sort()) counts[key] = (counts[key] ?? 0) + 1;
  return counts;
}
