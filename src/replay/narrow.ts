import type { Rejected } from "../feed/record.ts";
import type { Pass } from "../pass/pass.ts";
import type { SiteCondition } from "../site/condition.ts";
import type { Warning } from "../warning/warning.ts";
import type { WarningStory } from "./day.ts";
import { msOf, printable } from "./words.ts";

/** What was asked for on the command line; each absent option narrows nothing. */
export interface NarrowOptions {
  from?: string | undefined;
  to?: string | undefined;
  train?: readonly string[] | undefined;
  site?: readonly string[] | undefined;
}

/** Which results are reported. It never touches what is folded: a bearing's history before `--from` still counts. */
export interface Narrow {
  /** For people; null when nothing is narrowed. */
  words: string | null;
  /** What was asked for: another thread makes the same of it. */
  asked: NarrowOptions;
  pass(pass: Pass, train: string | null, journey: string | null): boolean;
  /** The diagram shows a train's whole way, so the site does not narrow it. */
  point(pass: Pass, train: string | null, journey: string | null): boolean;
  warning(warning: Warning): boolean;
  story(story: WarningStory): boolean;
  condition(condition: SiteCondition): boolean;
  rejected(rejected: Rejected): boolean;
}

/** A narrowing option that cannot be understood; wrong usage. Codes: NARROW-001 a time, NARROW-002 an empty span, NARROW-003 an unknown site. */
export class NarrowMistake extends Error {
  readonly code: string;

  constructor(code: string, message: string) {
    super(`${code} ${message}`);
    this.name = "NarrowMistake";
    this.code = code;
  }
}

export const EVERYTHING: Narrow = {
  words: null,
  asked: {},
  pass: () => true,
  point: () => true,
  warning: () => true,
  story: () => true,
  condition: () => true,
  rejected: () => true,
};

/** RFC 3339 in UTC, seconds optional, or a day (its first moment). */
const TIME = /^\d{4}-\d{2}-\d{2}(T\d{2}:\d{2}(:\d{2}(\.\d{1,3})?)?Z)?$/;

/**
 * Builds the predicate of `--from`, `--to` (exclusive), `--train` and `--site`. A train is named by its train id or its
 * journey id; a warning is a site's when the bearing was warned of or read there.
 * @param sites ids of the line file
 * @throws NarrowMistake
 */
export function narrow(options: NarrowOptions, sites: ReadonlySet<string>): Narrow {
  const fromMs = momentOf("--from", options.from) ?? Number.NEGATIVE_INFINITY;
  const toMs = momentOf("--to", options.to) ?? Number.POSITIVE_INFINITY;
  if (fromMs >= toMs) {
    throw new NarrowMistake(
      "NARROW-002",
      `--from ${options.from} is not before --to ${options.to}: nothing could be reported. Swap or widen them.`,
    );
  }
  for (const site of options.site ?? []) {
    if (sites.has(site)) continue;
    throw new NarrowMistake(
      "NARROW-003",
      `--site ${printable(site)}: the line file has no such site. "bearing-rise check" lists its sites.`,
    );
  }
  const words = wordsOf(options);
  if (words === null) return EVERYTHING;

  const trains = options.train?.length ? new Set(options.train) : null;
  const wanted = options.site?.length ? new Set(options.site) : null;
  const inTime = (ms: number) => ms >= fromMs && ms < toMs;
  const isTrain = (train: string | null, journey: string | null) =>
    trains === null || (train !== null && trains.has(train)) || (journey !== null && trains.has(journey));
  const atSite = (site: string) => wanted === null || wanted.has(site);
  const isAbout = (w: Warning) => isTrain(w.train, w.journey) && (atSite(w.site) || w.evidence.some((e) => atSite(e.site)));
  const point = (pass: Pass, train: string | null, journey: string | null) =>
    inTime(pass.endedMs) && (isTrain(pass.train, journey) || isTrain(train, journey));
  return {
    words,
    asked: options,
    point,
    pass: (pass, train, journey) => atSite(pass.site) && point(pass, train, journey),
    warning: (w) => inTime(msOf(w.time)) && isAbout(w),
    story: ({ last, watch, warn, limit }) =>
      isAbout(last) && (inTime(msOf(last.time)) || [watch, warn, limit].some((reached) => reached !== null && inTime(reached.timeMs))),
    // A condition says nothing of a train, and stands from being raised until it is cleared.
    condition: (condition) => trains === null && standsWithin(condition, fromMs, toMs) && atSite(condition.site),
    // A record that could not be read has no train, site or time to go by: refusals are always reported.
    rejected: () => true,
  };
}

export function momentOf(option: string, text: string | undefined): number | null {
  if (text === undefined) return null;
  const ms = TIME.test(text) ? msOf(text) : Number.NaN;
  if (Number.isFinite(ms)) return ms;
  throw new NarrowMistake(
    "NARROW-001",
    `${option} ${printable(text)}: expected a day or a time in UTC such as 2026-03-04 or 2026-03-04T05:06Z.`,
  );
}

function wordsOf(options: NarrowOptions): string | null {
  const parts: string[] = [];
  if (options.from !== undefined) parts.push(`from ${options.from}`);
  if (options.to !== undefined) parts.push(`before ${options.to}`);
  if (options.train?.length) parts.push(`train ${options.train.join(" or ")}`);
  if (options.site?.length) parts.push(`site ${options.site.join(" or ")}`);
  return parts.length === 0 ? null : parts.join(", ");
}

function standsWithin(condition: SiteCondition, fromMs: number, toMs: number): boolean {
  const ends = condition.state === "cleared" ? msOf(condition.time) : Number.POSITIVE_INFINITY;
  return msOf(condition.raisedAt) < toMs && ends >= fromMs;
}
