import type { FeedRecord, Rejected } from "../feed/record.ts";
import { type LineBook, lineBookOf } from "../line/line-book.ts";
import type { Railroad } from "../line/railroad.ts";
import type { Pass } from "../pass/pass.ts";
import type { Watch } from "../site/watch.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import { AssembleFold } from "./assemble-fold.ts";
import type { LookTaken } from "./bearings.ts";
import { FollowFold } from "./follow-fold.ts";
import type { Followed } from "./followed.ts";
import { type Refused, siteOfRejected } from "./refused.ts";
import { type Share, WHOLE } from "./share.ts";
import type { AssembleSink, FollowSink, Outcome, Sink } from "./sink.ts";

/**
 * The way of the data for one railroad in one process, from its first record to the last: the stage that assembles, and
 * what comes out of it by hand to the stage that follows. Live the very same two folds run apart, a log between them.
 */
export class RailroadFlow {
  private readonly lines: LineBook;
  private readonly assemble: AssembleFold;
  private readonly follow: FollowFold;
  private readonly share: Share;
  /** Whether what the record folded last came to is told here, or by another share. */
  isTold = true;
  /** Axles of finished passes that are told here. */
  axles = 0;

  /**
   * `observe` sees every look at a bearing. `carry` is the way of a pass from the stage that assembles to the one that
   * follows: here by hand, over a log where the two run apart. `share`: the corridors folded here.
   */
  constructor(
    railroad: Railroad,
    book: RuleBook,
    sink: Sink,
    observe: ((taken: LookTaken) => void) | null = null,
    carry: (pass: Pass) => Pass = (pass) => pass,
    share: Share = WHOLE,
  ) {
    const follow = new FollowFold(railroad, book, withoutKeeping(sink), observe, share.folds);
    const handOn = (record: Followed, corridors: readonly string[]): Outcome => {
      let outcome: Outcome = "repeated";
      for (const corridor of corridors) if (follow.has(corridor) && follow.step(corridor, record) === "used") outcome = "used";
      return outcome;
    };
    const sinkOfAssembling: AssembleSink = {
      pass: (pass, corridors) => {
        const carried = carry(pass);
        if (share.tells(carried.site)) {
          this.axles += carried.axles;
          sink.pass(carried);
        }
        handOn({ type: "pass", pass: carried }, corridors);
      },
      forward: handOn,
      rejected: (rejected) => {
        if (this.isTold) sink.rejected(rejected);
        this.refused(rejected, null);
      },
    };
    this.lines = lineBookOf(railroad);
    this.share = share;
    this.follow = follow;
    this.assemble = new AssembleFold(this.lines, sinkOfAssembling, share.hears);
  }

  /**
   * Folds one record. A rejected one has gone to the sink with its reason, if it is told here. `partition` and
   * `offset` say where it came from, `arrivedMs` when it came, where that was kept.
   */
  step(record: FeedRecord, topic: string, partition: number, offset: number, arrivedMs?: number): Outcome {
    this.isTold = this.share.tells("site" in record ? record.site : undefined);
    return this.assemble.step(record, { topic, partition, offset, arrivedMs });
  }

  /** A record that could not be read or used: it counts against the site that it came from, as far as can be told. */
  refused(rejected: Rejected, key: string | null): void {
    const site = siteOfRejected(rejected, key, this.lines.sites);
    if (site !== null) this.refusedOf(rejected, site);
  }

  /** A record that could not be read or used counts against this site, if there is one of this name. */
  refusedOf({ reason }: Rejected, site: string): void {
    const refused: Refused = { type: "refused", site, reason, time: new Date(Math.max(0, this.eventMs)).toISOString() };
    for (const corridor of this.lines.corridorsOf(site)) if (this.follow.has(corridor)) this.follow.step(corridor, refused);
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

  /** Whether readings of sites that are not heard here may be passed over: they change nothing. */
  get mayPassOver(): boolean {
    return !this.assemble.isSourced;
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
