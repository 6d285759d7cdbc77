import type { Rejected } from "../feed/record.ts";
import type { JoinDoubt, Journey, Leg } from "../journey/journey.ts";
import type { Railroad } from "../line/railroad.ts";
import type { Pass } from "../pass/pass.ts";
import type { SiteCondition } from "../site/condition.ts";
import type { Warning } from "../warning/warning.ts";
import {
  DAY_LIMITS,
  type Day,
  type PassPoint,
  type RecordOutcome,
  type RejectedReason,
  TOPICS,
  type TopicOrOther,
  type TrainLine,
} from "./day.ts";
import { JoinTally } from "./joins.ts";
import { EVERYTHING, type Narrow } from "./narrow.ts";
import { Stories } from "./stories.ts";
import { shortened } from "./words.ts";

interface Point extends PassPoint {
  corridor: string;
  journey: string | null;
  train: string | null;
}

/**
 * Collects during a replay what summary, report and comparison need. Counts are of the whole feed; what is listed obeys
 * `narrow`. Everything kept has a limit (DAY_LIMITS), so memory does not grow with the day.
 */
export class DayAccount {
  readonly #railroad: Railroad;
  readonly #narrow: Narrow;
  readonly #outcomes = new Map<TopicOrOther, Record<RecordOutcome, number>>();
  readonly #stories = new Stories();
  readonly #joins = new JoinTally();
  readonly #points = new Map<string, Point>();
  readonly #conditions = new Map<string, SiteCondition>();
  readonly #reasons = new Map<string, RejectedReason>();
  readonly #rules = new Set<string>();
  readonly #flags: Record<string, number> = {};
  readonly #over = { passPoints: 0, conditions: 0 };
  #read = 0;
  #axles = 0;
  #followed = 0;
  #passes = 0;
  #fromMs = Number.POSITIVE_INFINITY;
  #toMs = Number.NEGATIVE_INFINITY;

  constructor(railroad: Railroad, narrow: Narrow = EVERYTHING) {
    this.#railroad = railroad;
    this.#narrow = narrow;
    for (const topic of TOPICS) this.#outcomes.set(topic, { used: 0, late: 0, repeated: 0, rejected: 0 });
  }

  /** Records read from the feed, whatever became of them. The outcomes must add up to this: `Day.records` holds both. */
  addRead(records: number): void {
    this.#read += records;
  }

  addOutcome(topic: string, outcome: Exclude<RecordOutcome, "rejected">, records = 1): void {
    this.#outcome(topic)[outcome] += records;
  }

  addAxles(axles: number): void {
    this.#axles += axles;
  }

  /** Bearings that were followed one by one, after the screening of all. */
  addFollowed(bearings: number): void {
    this.#followed += bearings;
  }

  addRules(id: string): void {
    if (this.#rules.size < DAY_LIMITS.rulesIds) this.#rules.add(id);
  }

  /** Counts the record as rejected, under its topic and its reason. */
  addRejected(rejected: Rejected): void {
    this.#outcome(rejected.topic).rejected++;
    const known = this.#reasons.has(rejected.reason) || this.#reasons.size < DAY_LIMITS.reasons;
    const key = known ? rejected.reason : "other";
    let kept = this.#reasons.get(key);
    if (kept === undefined) {
      kept = { reason: key, count: 0, expected: rejected.expected, advice: rejected.advice, samples: [] };
      this.#reasons.set(key, kept);
    }
    kept.count++;
    if (kept.samples.length >= DAY_LIMITS.samplesPerReason) return;
    const { topic, partition, offset, path } = rejected;
    kept.samples.push({ topic, partition, offset, path, raw: shortened(rejected.raw, DAY_LIMITS.rawCharacters) });
  }

  /** A finished pass, once. */
  addPass(pass: Pass): void {
    this.#passes++;
    for (const flag of pass.flags) this.#flags[flag] = (this.#flags[flag] ?? 0) + 1;
    if (pass.begunMs < this.#fromMs) this.#fromMs = pass.begunMs;
    if (pass.endedMs > this.#toMs) this.#toMs = pass.endedMs;
    const corridor = this.#ownerOf(pass.site);
    if (!this.#points.has(keyOf(corridor, pass.id))) this.#point(pass, corridor, null, pass.train);
  }

  /**
   * A pass placed in a journey, also the first of one (`leg.join` null) and one placed anew after a late pass. A pass at a
   * corridor's end is placed in two corridors: joins are counted in the one that owns its site.
   */
  addJoin(journey: Journey, leg: Leg, corridor: string = this.#ownerOf(leg.pass.site)): void {
    if (corridor === this.#ownerOf(leg.pass.site)) this.#joins.place(journey, leg);
    this.#point(leg.pass, corridor, journey.id, journey.train);
    this.#stories.follow(journey);
  }

  /** Why a pass was joined to nothing, or with doubt; after its `addJoin`, and counted like it. */
  addDoubt(doubt: JoinDoubt, corridor?: string): void {
    // A pass id begins with its site, and a site id holds no slash.
    const site = doubt.pass.slice(0, doubt.pass.indexOf("/"));
    if (corridor === undefined || corridor === this.#ownerOf(site)) this.#joins.doubt(doubt);
  }

  /** Every version, in the order in which they were published. */
  addWarning(warning: Warning): void {
    this.#stories.add(warning);
  }

  addCondition(condition: SiteCondition): void {
    if (!this.#narrow.condition(condition)) return;
    if (this.#conditions.size < DAY_LIMITS.conditions || this.#conditions.has(condition.id)) this.#conditions.set(condition.id, condition);
    else this.#over.conditions++;
  }

  /** For a progress line: warning ids so far. */
  get warningsSoFar(): number {
    return this.#stories.open;
  }

  /** The day's account, in an order that depends on nothing but the day. */
  close(): Day {
    const { id, name, timeZone, demonstration } = this.#railroad;
    const { joins, doubts, over } = this.#joins.close();
    const outcomes: Record<RecordOutcome, number> = { used: 0, late: 0, repeated: 0, rejected: 0 };
    for (const counts of this.#outcomes.values()) for (const key of outcomeNames) outcomes[key] += counts[key];
    return {
      railroad: { id, name, timeZone, demonstration },
      rules: [...this.#rules].sort(),
      narrowed: this.#narrow.words,
      span: this.#passes === 0 ? null : { fromMs: this.#fromMs, toMs: this.#toMs },
      records: {
        read: this.#read,
        outcomes,
        byTopic: Object.fromEntries(this.#outcomes) as Record<TopicOrOther, Record<RecordOutcome, number>>,
      },
      axles: this.#axles,
      bearingsFollowed: this.#followed,
      passes: { count: this.#passes, flags: Object.fromEntries(Object.entries(this.#flags).sort(([a], [b]) => (a < b ? -1 : 1))) },
      joins,
      doubts,
      warnings: this.#stories.close().filter((story) => this.#narrow.story(story)),
      conditions: [...this.#conditions.values()].sort(compareConditions),
      rejected: [...this.#reasons.values()].sort((a, b) => b.count - a.count || (a.reason < b.reason ? -1 : 1)),
      trains: this.#trains(),
      overflow: { warnings: this.#stories.over, doubts: over, ...this.#over },
    };
  }

  #outcome(topic: string): Record<RecordOutcome, number> {
    return (this.#outcomes.get(topic as TopicOrOther) ?? this.#outcomes.get("other")) as Record<RecordOutcome, number>;
  }

  #ownerOf(site: string): string {
    return this.#railroad.corridorsOf(site)[0] ?? "";
  }

  #point(pass: Pass, corridor: string, journey: string | null, train: string | null): void {
    if (!this.#narrow.point(pass, train, journey)) return;
    const key = keyOf(corridor, pass.id);
    if (this.#points.size >= DAY_LIMITS.passPoints && !this.#points.has(key)) {
      // A pass comes by twice (finished, then placed); it is counted over the limit once.
      if (journey === null) this.#over.passPoints++;
      return;
    }
    const { id, site, endedMs: timeMs, direction } = pass;
    this.#points.set(key, { pass: id, site, timeMs, direction, corridor, journey, train });
  }

  #trains(): TrainLine[] {
    const lines = new Map<string, TrainLine>();
    const points = [...this.#points.values()].sort((a, b) => a.timeMs - b.timeMs || (a.pass < b.pass ? -1 : a.pass > b.pass ? 1 : 0));
    for (const { corridor, journey, train, ...point } of points) {
      const key = keyOf(corridor, journey ?? point.pass);
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
}

function keyOf(corridor: string, id: string): string {
  return `${corridor} ${id}`;
}

const outcomeNames = ["used", "late", "repeated", "rejected"] as const;

function compareConditions(a: SiteCondition, b: SiteCondition): number {
  return a.raisedAt < b.raisedAt ? -1 : a.raisedAt > b.raisedAt ? 1 : a.id < b.id ? -1 : 1;
}
