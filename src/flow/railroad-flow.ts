import type { FeedRecord, Rejected } from "../feed/record.ts";
import type { Railroad } from "../line/railroad.ts";
import type { Pass } from "../pass/pass.ts";
import type { Watch } from "../site/watch.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import { AssembleFold } from "./assemble-fold.ts";
import type { LookTaken } from "./bearings.ts";
import { FollowFold } from "./follow-fold.ts";
import type { Followed } from "./followed.ts";
import { type Refused, siteOfRejected } from "./refused.ts";
import type { FollowSink, Outcome, Sink } from "./sink.ts";

/**
 * The way of the data for one railroad in one process, from its first record to the last: the stage that assembles, and
 * what comes out of it by hand to the stage that follows. Live the very same two folds run apart, a log between them.
 */
export class RailroadFlow {
  private readonly railroad: Railroad;
  private readonly assemble: AssembleFold;
  private readonly follow: FollowFold;

  /**
   * `observe` sees every look at a bearing. `carry` is the way of a pass from the stage that assembles to the one that
   * follows: here by hand, over a log where the two run apart.
   */
  constructor(
    railroad: Railroad,
    book: RuleBook,
    sink: Sink,
    observe: ((taken: LookTaken) => void) | null = null,
    carry: (pass: Pass) => Pass = (pass) => pass,
  ) {
    const follow = new FollowFold(railroad, book, withoutKeeping(sink), observe);
    const handOn = (record: Followed, corridors: readonly string[]): Outcome => {
      let outcome: Outcome = "repeated";
      for (const corridor of corridors) if (follow.step(corridor, record) === "used") outcome = "used";
      return outcome;
    };
    this.railroad = railroad;
    this.follow = follow;
    this.assemble = new AssembleFold(railroad, {
      pass: (pass, corridors) => {
        const carried = carry(pass);
        sink.pass(carried);
        handOn({ type: "pass", pass: carried }, corridors);
      },
      forward: handOn,
      rejected: (rejected) => {
        sink.rejected(rejected);
        this.refused(rejected, null);
      },
    });
  }

  /**
   * Folds one record. A rejected one has gone to the sink with its reason. `partition` and `offset` say where it came from,
   * `arrivedMs` when it came, where that was kept.
   */
  step(record: FeedRecord, topic: string, partition: number, offset: number, arrivedMs?: number): Outcome {
    return this.assemble.step(record, { topic, partition, offset, arrivedMs });
  }

  /** A record that could not be read or used: it counts against the site that it came from. */
  refused(rejected: Rejected, key: string | null): void {
    const site = siteOfRejected(rejected, key, this.railroad.sites);
    if (site === null) return;
    const refused: Refused = { type: "refused", site, reason: rejected.reason, time: new Date(Math.max(0, this.eventMs)).toISOString() };
    for (const corridor of this.railroad.corridorsOf(site)) this.follow.step(corridor, refused);
  }

  /** The watches over the sites. For showing. */
  get watches(): Watch[] {
    return this.follow.watches;
  }

  /** The end of a recorded feed: passes still open are closed as their time-out would close them, and everything is settled. */
  finish(): void {
    this.assemble.finish();
    this.follow.finish();
  }

  /** Axles of finished passes. */
  get axles(): number {
    return this.assemble.axles;
  }

  /** Event time that a second site confirms; minus infinity before. */
  get eventMs(): number {
    return this.assemble.eventMs;
  }

  /** Looks taken at single bearings, after the screen of all. */
  get looks(): number {
    return this.follow.looks;
  }
}

/** In one go from the first record to the last nothing is ever read back. */
function withoutKeeping(sink: Sink): FollowSink {
  return {
    warning: (warning) => sink.warning(warning),
    condition: (condition) => sink.condition(condition),
    functionalTest: (record) => sink.functionalTest?.(record),
    equipment: (seen) => sink.equipment?.(seen),
    leftOut: (pass, why, corridor) => sink.leftOut?.(pass, why, corridor),
    calibration: (calibration) => sink.calibration(calibration),
    keep: () => {},
    settled: (journey, leg, doubt, corridor) => sink.settled(journey, leg, doubt, corridor),
  };
}
