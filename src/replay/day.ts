import type { FeedUnreadable } from "../feed/feed-unreadable.ts";
import type { Direction } from "../line/railroad.ts";
import type { SiteCondition } from "../site/condition.ts";
import type { EvidenceReading, Level, Warning } from "../warning/warning.ts";

/**
 * What is kept of a day, at most: whatever the day's length, memory and the report stay of a size. What does not fit is
 * counted in `Day.overflow` and the report says so. Assumptions of ours: a large railroad's day fits.
 */
export const DAY_LIMITS = {
  warnings: 2_000,
  passPoints: 20_000,
  conditions: 2_000,
  doubts: 500,
  reasons: 64,
  samplesPerReason: 5,
  rawCharacters: 240,
  rulesIds: 64,
} as const;

export const TOPICS = ["axle-readings", "site-reports", "consists", "desk-actions", "other"] as const;
export type TopicOrOther = (typeof TOPICS)[number];
export type RecordOutcome = "used" | "late" | "repeated" | "rejected";

/** Where a bearing first got a level. Times are event time. */
export interface Reached {
  level: Level;
  timeMs: number;
  /** The pass that led to it, and its site. */
  pass: string;
  site: string;
  /** Since the journey's first pass. */
  miles: number;
  riseF: number | null;
  /** The bearing on the last pass that saw its axle: an earlier one when this pass did not. */
  seen: { pass: string; axle: number; side: "left" | "right" };
}

/** What was read of a bearing at one site. */
export interface BearingRead {
  pass: string;
  site: string;
  miles: number;
  /** As the train ran over that site, from 1; null where the axle was not seen. */
  axle: number | null;
  /** °F above ambient; null where it was not measured. */
  riseF: number | null;
}

/**
 * How a warning ended. `not-seen-again`: after the warn no later site measured the bearing (set out, or the train's end).
 * `came-to-nothing`: a later site measured it, and the limit was never reached.
 */
export type Ending = "limit" | "came-to-nothing" | "not-seen-again" | "watch" | "information" | "withdrawn";

/** One warning over the day: what it was last, and how it got there. */
export interface WarningStory {
  /** The last version. Where two corridors warned of one bearing, that of the later, with the evidence of both. */
  last: Warning;
  /** Ids under which other corridors warned of the same bearing. */
  also: string[];
  versions: number;
  corrections: number;
  watch: Reached | null;
  warn: Reached | null;
  limit: Reached | null;
  /** The version that first said the highest level: what people were told to do. */
  told: Warning;
  /** The version that first said `warn`: its projection can be held against what came. */
  asWarned: Warning | null;
  /** Read after the last version: nothing new was to be said, but it shows how it ended. */
  later: BearingRead[];
  ending: Ending;
}

/** All that is known to have been read of the bearing, by miles: the evidence of the last version, and what came later. */
export function readingsOf({ last, later }: Pick<WarningStory, "last" | "later">): BearingRead[] {
  const evidence = last.evidence.map(({ pass, site, miles, axle, riseF }) => ({ pass, site, miles, axle, riseF }));
  return [...evidence, ...later].sort((a, b) => a.miles - b.miles);
}

/**
 * The evidence of the last version, each reading judged as it was when the highest level was told: what came later may have
 * made an outlier of the very reading that led to it, and would contradict the reasons beside it.
 */
export function evidenceAsTold({ last, told }: Pick<WarningStory, "last" | "told">): EvidenceReading[] {
  const judged = new Map(told.evidence.map((reading) => [reading.pass, reading.used]));
  return last.evidence.map((reading) => ({ ...reading, used: judged.get(reading.pass) ?? reading.used }));
}

/** Miles of a reach. A journey that turns out to have begun earlier counts from there: the last version has the say. */
export function milesOf({ last }: Pick<WarningStory, "last">, reached: Reached): number {
  return last.evidence.find((reading) => reading.pass === reached.pass)?.miles ?? reached.miles;
}

/** Measured at sites after the first `warn`. */
export function measuredAfterWarn(story: Omit<WarningStory, "ending">): BearingRead[] {
  const { warn } = story;
  if (warn === null) return [];
  const miles = milesOf(story, warn);
  return readingsOf(story).filter((reading) => reading.miles > miles && reading.riseF !== null);
}

/** How a story ended, from what it holds. */
export function endingOf(story: Omit<WarningStory, "ending">): Ending {
  const { last, limit, warn, told } = story;
  if (last.state === "withdrawn") return "withdrawn";
  if (limit !== null) return "limit";
  if (warn === null) return told.heat === "bearing" || told.heat === "none" ? "watch" : "information";
  return measuredAfterWarn(story).length > 0 ? "came-to-nothing" : "not-seen-again";
}

/** One pass in the time-distance diagram. */
export interface PassPoint {
  pass: string;
  site: string;
  timeMs: number;
  direction: Direction;
}

/**
 * One train's passes in event-time order, as one corridor joined them: a train that runs on into the next corridor is a
 * line in each. `journey` null: a pass that was placed in no journey, for instance a late one.
 */
export interface TrainLine {
  corridor: string;
  journey: string | null;
  train: string | null;
  points: PassPoint[];
}

export interface DoubtedJoin {
  pass: string;
  kind: "ambiguous" | "implausible-heat" | "weak";
  words: string;
}

export interface RejectedReason {
  reason: string;
  count: number;
  expected: string;
  advice: string;
  samples: { topic: string; partition: number; offset: number; path: string; raw: string }[];
}

/** Everything that summary, report and comparison say, after the last record. Plain data, in a fixed order. */
export interface Day {
  railroad: { id: string; name: string; timeZone: string; demonstration: boolean };
  rules: string[];
  /** What the report was narrowed to, in words; null when it is whole. */
  narrowed: string | null;
  span: { fromMs: number; toMs: number } | null;
  records: { read: number; outcomes: Record<RecordOutcome, number>; byTopic: Record<TopicOrOther, Record<RecordOutcome, number>> };
  axles: number;
  bearingsFollowed: number;
  passes: { count: number; flags: Record<string, number> };
  joins: { placed: number; made: number; flipped: number; directionDoubted: number; edited: number; doubts: Record<string, number> };
  doubts: DoubtedJoin[];
  warnings: WarningStory[];
  conditions: SiteCondition[];
  rejected: RejectedReason[];
  trains: TrainLine[];
  overflow: { warnings: number; passPoints: number; conditions: number; doubts: number };
  /** Where the feed broke off: the day is what could be read up to there. Null when it was read to its end. */
  cutShort: FeedUnreadable | null;
}

/** Bearings that reached the limit although no earlier site had led to a `warn`; not what was withdrawn, as in every other count. */
export function limitWithoutWarn(day: Day): WarningStory[] {
  return day.warnings.filter((story) => story.ending === "limit" && !warnedBefore(story));
}

/** Whether `warn` had been said at an earlier pass than the one that read the limit. */
export function warnedBefore(story: WarningStory): boolean {
  if (story.limit === null || story.warn === null) return false;
  return story.warn.pass !== story.limit.pass && story.warn.timeMs <= story.limit.timeMs;
}

export function cameToNothing(day: Day): WarningStory[] {
  return day.warnings.filter((story) => story.ending === "came-to-nothing");
}

/** Highest level a warning ever had. */
export function highestLevel(story: Pick<WarningStory, "limit" | "warn">): Level {
  if (story.limit !== null) return "limit";
  return story.warn !== null ? "warn" : "watch";
}
