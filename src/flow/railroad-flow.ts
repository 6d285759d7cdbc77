import type { Edge } from "../feed/edge.ts";
import { edgeOf } from "../feed/edge.ts";
import type { AxleReading, FeedRecord, SiteReport } from "../feed/record.ts";
import { type Refusal, reject } from "../feed/reject.ts";
import type { Railroad } from "../line/railroad.ts";
import { Assembly } from "../pass/assemble.ts";
import type { Pass } from "../pass/pass.ts";
import { Watch } from "../site/watch.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import type { LookTaken } from "./bearings.ts";
import { Corridor } from "./corridor.ts";
import { EventTime } from "./event-time.ts";
import type { Outcome, Sink } from "./sink.ts";

/** How far ahead of every other site a clock may be before its passes are placed by arrival. Assumption: a lonely line's quiet hours. */
export const CLOCK_AHEAD_MS = 6 * 3_600_000;

/** How often, in event time, open passes are timed out and dead sites looked for. */
const TICK_MS = 60_000;

/**
 * The way of the data for one railroad: readings to passes, passes to the corridors that fold them, site reports to the
 * watch. A fold over records in the log's order: no clock, no input or output but `sink`.
 */
export class RailroadFlow {
  private readonly railroad: Railroad;
  private readonly sink: Sink;
  private readonly carry: (pass: Pass) => Pass;
  private readonly watch: Watch;
  private readonly time: EventTime;
  private readonly assemblies = new Map<string, Map<string, Assembly>>();
  private readonly corridors = new Map<string, Corridor>();
  private readonly closed: Pass[] = [];
  private tickedMs = Number.NEGATIVE_INFINITY;
  /** Axles of finished passes. */
  axles = 0;

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
    this.railroad = railroad;
    this.sink = sink;
    this.carry = carry;
    this.watch = new Watch(railroad, (condition) => sink.condition(condition));
    this.time = new EventTime(railroad.sites.size);
    for (const site of railroad.sites.values()) {
      const edge: Edge = edgeOf(site);
      this.assemblies.set(site.id, new Map(site.tracks.map((track) => [track.id, new Assembly(site, track, edge)])));
    }
    for (const { id } of railroad.corridors) this.corridors.set(id, new Corridor(id, railroad, book, this.watch, sink, observe));
  }

  /** Folds one record. A rejected one has gone to the sink with its reason. `partition` and `offset` say where it came from. */
  step(record: FeedRecord, topic: string, partition: number, offset: number): Outcome {
    switch (record.type) {
      case "axles":
        return this.reading(record, topic, partition, offset);
      case "pass-begun":
      case "pass-ended":
        this.hear(record.site, record.time);
        return this.reading(record, topic, partition, offset);
      case "consist":
        return this.everyCorridor((corridor) => corridor.consist(record));
      case "desk-action":
        for (const corridor of this.corridors.values()) corridor.action(record);
        return "used";
      case "tick":
        return "used";
      default:
        return this.report(record, topic, partition, offset);
    }
  }

  /** The end of a recorded feed: passes still open are closed as their time-out would close them, and everything is settled. */
  finish(): void {
    for (const tracks of this.assemblies.values()) for (const assembly of tracks.values()) assembly.closeAll(this.closed);
    this.handOn();
    for (const corridor of this.corridors.values()) corridor.finish();
  }

  /** Event time that a second site confirms; minus infinity before. */
  get eventMs(): number {
    return this.time.confirmedMs;
  }

  /** Looks taken at single bearings, after the screen of all. */
  get looks(): number {
    let looks = 0;
    for (const corridor of this.corridors.values()) looks += corridor.looks;
    return looks;
  }

  private reading(record: AxleReading, topic: string, partition: number, offset: number): Outcome {
    const tracks = this.assemblies.get(record.site);
    const assembly = tracks?.get(record.track);
    if (assembly === undefined) return this.refuse(unknownPlace(record, tracks === undefined), record, topic, partition, offset);
    const outcome = assembly.step(record, this.closed);
    if (this.closed.length > 0) this.handOn();
    return typeof outcome === "string" ? outcome : this.refuse(outcome, record, topic, partition, offset);
  }

  private report(record: SiteReport, topic: string, partition: number, offset: number): Outcome {
    if (!this.assemblies.has(record.site)) return this.refuse(unknownPlace(record, true), record, topic, partition, offset);
    this.hear(record.site, record.time);
    if (record.type === "heartbeat") this.watch.heartbeat(record);
    if (record.type === "fault") this.watch.fault(record);
    return "used";
  }

  private everyCorridor(fold: (corridor: Corridor) => Outcome): Outcome {
    let outcome: Outcome = "repeated";
    for (const corridor of this.corridors.values()) if (fold(corridor) === "used") outcome = "used";
    return outcome;
  }

  private refuse(why: Refusal, record: FeedRecord, topic: string, partition: number, offset: number): Outcome {
    this.sink.rejected(reject(why, record, { topic, partition, offset }));
    return "rejected";
  }

  private hear(site: string, time: string): void {
    const ms = Date.parse(time);
    this.time.hear(site, ms);
    this.watch.heard(site, Math.min(ms, this.believableMs()));
    const nowMs = this.time.confirmedMs;
    if (nowMs - this.tickedMs >= TICK_MS) this.tick(nowMs);
  }

  private believableMs(): number {
    const confirmedMs = this.time.confirmedMs;
    return confirmedMs === Number.NEGATIVE_INFINITY ? Number.POSITIVE_INFINITY : confirmedMs + CLOCK_AHEAD_MS;
  }

  private tick(nowMs: number): void {
    this.tickedMs = nowMs;
    for (const tracks of this.assemblies.values()) for (const assembly of tracks.values()) assembly.tick(nowMs, this.closed);
    this.handOn();
    this.watch.tick(nowMs);
  }

  /** Finished passes go to whoever follows them. */
  private handOn(): void {
    for (const pass of this.closed) {
      const placed = this.carry(this.inTime(pass));
      this.axles += placed.axles;
      this.sink.pass(placed);
      for (const corridor of this.railroad.corridorsOf(pass.site)) this.corridors.get(corridor)?.pass(placed, this.time.confirmedMs);
    }
    this.closed.length = 0;
  }

  /** A pass from a clock that no other site's time can explain is placed by its arrival, and says so. */
  private inTime(pass: Pass): Pass {
    const aheadMs = pass.endedMs - this.time.confirmedMs;
    if (!(aheadMs > CLOCK_AHEAD_MS) || aheadMs === Number.POSITIVE_INFINITY) {
      this.watch.clockAgrees(pass);
      return pass;
    }
    const hours = Math.round(aheadMs / 3_600_000);
    this.watch.clock(pass, `its clock is ${hours} hours ahead of every other site.`);
    return { ...pass, begunMs: pass.begunMs - aheadMs, endedMs: pass.endedMs - aheadMs, flags: [...pass.flags, "clock-doubted"] };
  }
}

/** The line file has no such site, or the site no such track. */
function unknownPlace(record: { site: string; track?: string }, isSite: boolean): Refusal {
  if (isSite) {
    return {
      reason: "LINE-001 unknown-site",
      path: "site",
      expected: "a site of the line file",
      advice: `Add ${record.site} to the line file, or correct the sender. What it sends is kept here until then.`,
    };
  }
  return {
    reason: "LINE-002 unknown-track",
    path: "track",
    expected: `a track of ${record.site} in the line file`,
    advice: `Add track ${record.track ?? ""} to ${record.site} in the line file, or correct the sender.`,
  };
}
