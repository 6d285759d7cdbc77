import type { Rejected } from "../feed/record.ts";
import type { JoinDoubt, Journey, Leg } from "../journey/journey.ts";
import type { Railroad } from "../line/railroad.ts";
import type { Pass } from "../pass/pass.ts";
import type { SiteCondition } from "../site/condition.ts";
import type { Warning } from "../warning/warning.ts";
import { CorridorAccount, type CorridorPart } from "./corridor-account.ts";
import { DAY_LIMITS, type Day, type RecordOutcome, type RejectedReason, TOPICS, type TopicOrOther } from "./day.ts";
import { EVERYTHING, type Narrow } from "./narrow.ts";
import { overDay } from "./over-day.ts";
import { shortened } from "./words.ts";

type Outcomes = Record<RecordOutcome, number>;

/** What one thread has counted of a day, as plain data: see `DayAccount.add`. */
export interface AccountPart {
  outcomes: Record<TopicOrOther, Outcomes>;
  axles: number;
  followed: number;
  corridors: CorridorPart[];
}

/**
 * Collects during a replay what summary, report and comparison need. Counts are of the whole feed; what is listed obeys
 * `narrow`. It is kept by corridor, for corridors are folded apart from each other, and put together at the end.
 */
export class DayAccount {
  readonly #railroad: Railroad;
  readonly #narrow: Narrow;
  readonly #outcomes = new Map<TopicOrOther, Outcomes>();
  readonly #corridors = new Map<string, CorridorAccount>();
  /** Of other threads. */
  readonly #parts: CorridorPart[] = [];
  readonly #reasons = new Map<string, RejectedReason>();
  readonly #rules = new Set<string>();
  #read = 0;
  #axles = 0;
  #followed = 0;

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
    this.#of(this.#ownerOf(pass.site)).addPass(pass);
  }

  /**
   * A pass placed in a journey, also the first of one (`leg.join` null) and one placed anew after a late pass. A pass at a
   * corridor's end is placed in two corridors: joins are counted in the one that owns its site.
   */
  addJoin(journey: Journey, leg: Leg, corridor: string = this.#ownerOf(leg.pass.site)): void {
    this.#of(corridor).addJoin(journey, leg, corridor === this.#ownerOf(leg.pass.site));
  }

  /** Why a pass was joined to nothing, or with doubt; after its `addJoin`, and counted like it. */
  addDoubt(doubt: JoinDoubt, corridor?: string): void {
    // A pass id begins with its site, and a site id holds no slash.
    const owner = this.#ownerOf(doubt.pass.slice(0, doubt.pass.indexOf("/")));
    if (corridor === undefined || corridor === owner) this.#of(owner).addDoubt(doubt);
  }

  /** Every version, in the order in which they were published. */
  addWarning(warning: Warning): void {
    this.#of(warning.corridor).addWarning(warning);
  }

  addCondition(condition: SiteCondition): void {
    this.#of(this.#ownerOf(condition.site)).addCondition(condition);
  }

  /** For a progress line: warning ids so far. */
  get warningsSoFar(): number {
    let warnings = 0;
    for (const corridor of this.#corridors.values()) warnings += corridor.warnings;
    return warnings;
  }

  /** What was counted here, for the account of another thread. Records read, rules and rejections are that one's own. */
  part(): AccountPart {
    return {
      outcomes: Object.fromEntries(this.#outcomes) as AccountPart["outcomes"],
      axles: this.#axles,
      followed: this.#followed,
      corridors: this.#closed(),
    };
  }

  /** Takes in what another thread counted, of corridors that nobody else has. */
  add({ outcomes, axles, followed, corridors }: AccountPart): void {
    for (const [topic, counts] of this.#outcomes) for (const key of outcomeNames) counts[key] += outcomes[topic][key];
    this.#axles += axles;
    this.#followed += followed;
    this.#parts.push(...corridors);
  }

  /** The day's account, in an order that depends on nothing but the day. */
  close(): Day {
    const { id, name, timeZone, demonstration } = this.#railroad;
    const outcomes: Outcomes = { used: 0, late: 0, repeated: 0, rejected: 0 };
    for (const counts of this.#outcomes.values()) for (const key of outcomeNames) outcomes[key] += counts[key];
    return {
      railroad: { id, name, timeZone, demonstration },
      rules: [...this.#rules].sort(),
      narrowed: this.#narrow.words,
      records: { read: this.#read, outcomes, byTopic: Object.fromEntries(this.#outcomes) as Day["records"]["byTopic"] },
      axles: this.#axles,
      bearingsFollowed: this.#followed,
      ...overDay(this.#closed(), this.#narrow),
      rejected: [...this.#reasons.values()].sort((a, b) => b.count - a.count || (a.reason < b.reason ? -1 : 1)),
      cutShort: null,
    };
  }

  /** In the order of the line file; what belongs to no corridor is last. */
  #closed(): CorridorPart[] {
    const order = new Map(this.#railroad.corridors.map(({ id: corridor }, at) => [corridor, at]));
    const place = ({ corridor }: CorridorPart) => order.get(corridor) ?? order.size;
    return [...[...this.#corridors.values()].map((one) => one.close()), ...this.#parts].sort((a, b) => place(a) - place(b));
  }

  #of(corridor: string): CorridorAccount {
    let account = this.#corridors.get(corridor);
    if (account === undefined) {
      account = new CorridorAccount(corridor, this.#narrow);
      this.#corridors.set(corridor, account);
    }
    return account;
  }

  #outcome(topic: string): Record<RecordOutcome, number> {
    return (this.#outcomes.get(topic as TopicOrOther) ?? this.#outcomes.get("other")) as Record<RecordOutcome, number>;
  }

  #ownerOf(site: string): string {
    return this.#railroad.corridorsOf(site)[0] ?? "";
  }
}

const outcomeNames = ["used", "late", "repeated", "rejected"] as const;
