import { edgeOf } from "../feed/edge.ts";
import type { AxleReading, FeedRecord, Origin, SiteReport, Tick } from "../feed/record.ts";
import { type Refusal, reject } from "../feed/reject.ts";
import type { Railroad } from "../line/railroad.ts";
import { Assembly } from "../pass/assemble.ts";
import type { Pass } from "../pass/pass.ts";
import { EventTime } from "./event-time.ts";
import { inTime } from "./in-time.ts";
import { withLateness } from "./lateness.ts";
import type { AssembleSink, Outcome } from "./sink.ts";
import { SourceClock } from "./source-clock.ts";

/** How often, in a feed without ticks, open passes are timed out: in event time. */
const TIME_OUT_EVERY_MS = 60_000;

/** Where a record stands in the log, and when it came; a feed file does not know the latter. */
export interface Arrived extends Origin {
  arrivedMs?: number | undefined;
}

/** One track under the scanners: its assembly, and the source that its readings come from. */
interface Place {
  assembly: Assembly;
  source: SourceClock | null;
}

/**
 * The stage that assembles: readings into passes, everything to the corridors concerned. A fold over the order of one
 * source (a partition of an inbound topic), or of several in one file: no clock, no input or output but `sink`.
 *
 * Time is when records came, where the log or its ticks say so; in a plain feed file it is event time that a second site
 * confirms.
 */
export class AssembleFold {
  private readonly railroad: Railroad;
  private readonly sink: AssembleSink;
  private readonly event: EventTime;
  private readonly places = new Map<string, Map<string, Place>>();
  private readonly sources = new Map<string, SourceClock>();
  private readonly everyCorridor: readonly string[];
  private readonly closed: Pass[] = [];
  private timedOutMs = Number.NEGATIVE_INFINITY;
  /** Axles of finished passes. */
  axles = 0;

  /** `assembles`: sites whose readings are folded here; those of others are passed over. */
  constructor(railroad: Railroad, sink: AssembleSink, assembles: (site: string) => boolean = () => true) {
    this.railroad = railroad;
    this.sink = sink;
    this.event = new EventTime(railroad.sites.size);
    this.everyCorridor = railroad.corridors.map(({ id }) => id);
    for (const site of railroad.sites.values()) {
      if (!assembles(site.id)) continue;
      const edge = edgeOf(site);
      const tracks = site.tracks.map((track) => [track.id, { assembly: new Assembly(site, track, edge), source: null }] as const);
      this.places.set(site.id, new Map<string, Place>(tracks));
    }
  }

  /** Folds one record. A refused one has gone to the sink with its reason. */
  step(record: FeedRecord, arrived: Arrived): Outcome {
    const source = this.sourceOf(arrived, record);
    switch (record.type) {
      case "axles":
        return this.reading(record, arrived, source);
      case "pass-begun":
      case "pass-ended":
        this.hear(record.site, record.time);
        return this.reading(record, arrived, source);
      case "tick":
        return "used";
      case "consist":
        return this.sink.forward(record, this.everyCorridor);
      case "desk-action":
        return this.sink.forward(record, this.concerned(record.site));
      default:
        return this.report(record, arrived);
    }
  }

  /** The end of a recorded feed: passes still open are closed as their time-out would close them. */
  finish(): void {
    for (const tracks of this.places.values()) for (const place of tracks.values()) this.closeAll(place);
  }

  /** Event time that a second site confirms; minus infinity before. */
  get eventMs(): number {
    return this.event.confirmedMs;
  }

  /** Whether time is when records came: then every record of a source counts, whatever its site. */
  get isSourced(): boolean {
    return this.sources.size > 0;
  }

  /** The lowest offset of a source that this state depends on; `began`, the first it was ever given, while it forgets nothing. */
  refoldFrom(source: string, began: number): number {
    return this.sources.get(source)?.refoldFrom ?? began;
  }

  private reading(record: AxleReading, arrived: Arrived, source: SourceClock | null): Outcome {
    const tracks = this.places.get(record.site);
    const place = tracks?.get(record.track);
    if (place === undefined) {
      if (tracks === undefined && this.railroad.sites.has(record.site)) return "used";
      return this.refuse(unknownPlace(record, tracks === undefined), record, arrived);
    }
    if (place.source !== source) this.place(place, source);
    const outcome = place.assembly.step(record, this.closed);
    if (outcome === "used") source?.reading(place.assembly, record.pass, arrived.offset);
    if (this.closed.length > 0) this.handOn(place);
    return typeof outcome === "string" ? outcome : this.refuse(outcome, record, arrived);
  }

  /** The first reading of a track: its time is the source's from here on, whatever the site's own clock says. */
  private place(place: Place, source: SourceClock | null): void {
    place.source = source;
    if (source === null) return;
    place.assembly.tick(source.markMs, this.closed);
    if (this.closed.length > 0) this.handOn(place);
  }

  private report(record: SiteReport, arrived: Arrived): Outcome {
    if (!this.railroad.sites.has(record.site)) return this.refuse(unknownPlace(record, true), record, arrived);
    this.hear(record.site, record.time);
    return this.sink.forward(record, this.railroad.corridorsOf(record.site));
  }

  /** What names no site of the line, such as a warning, may concern anybody. */
  private concerned(site: string | undefined): readonly string[] {
    return site !== undefined && this.railroad.sites.has(site) ? this.railroad.corridorsOf(site) : this.everyCorridor;
  }

  private refuse(why: Refusal, record: FeedRecord, { topic, partition, offset }: Arrived): Outcome {
    this.sink.rejected(reject(why, record, { topic, partition, offset }));
    return "rejected";
  }

  /** The clock of a record's source, moved on; null where nobody knows when records came. */
  private sourceOf(arrived: Arrived, record: FeedRecord): SourceClock | null {
    const isTick = record.type === "tick";
    if (!isTick && arrived.arrivedMs === undefined && this.sources.size === 0) return null;
    const name = isTick ? record.source : `${arrived.topic}/${arrived.partition}`;
    let source = this.sources.get(name);
    if (source === undefined) {
      if (!isTick && arrived.arrivedMs === undefined) return null;
      source = new SourceClock(name);
      this.sources.set(name, source);
    }
    if (isTick) source.of = record.of;
    const turned = source.arrive(isTick ? Date.parse(record.time) : (arrived.arrivedMs ?? source.nowMs), arrived.offset);
    if (turned !== null) this.turn(source, turned);
    return source;
  }

  /** Time of a source has come to another mark: passes time out, the corridors hear of it. */
  private turn(source: SourceClock, atMs: number): void {
    for (const tracks of this.places.values()) {
      for (const place of tracks.values()) {
        if (place.source !== source) continue;
        place.assembly.tick(atMs, this.closed);
        if (this.closed.length > 0) this.handOn(place);
        place.assembly.forget(source.forgetsBeforeMs);
      }
    }
    if (source.of === 0) return;
    const tick: Tick = { type: "tick", time: new Date(atMs).toISOString(), source: source.name, of: source.of };
    this.sink.forward(tick, this.everyCorridor);
  }

  private hear(site: string, time: string): void {
    this.event.hear(site, Date.parse(time));
    const nowMs = this.event.confirmedMs;
    if (nowMs - this.timedOutMs < TIME_OUT_EVERY_MS) return;
    this.timedOutMs = nowMs;
    for (const tracks of this.places.values()) {
      for (const place of tracks.values()) {
        if (place.source !== null) continue;
        place.assembly.tick(nowMs, this.closed);
        if (this.closed.length > 0) this.handOn(place);
      }
    }
  }

  private closeAll(place: Place): void {
    place.assembly.closeAll(this.closed);
    this.handOn(place);
  }

  /** Finished passes go to whoever follows them. */
  private handOn({ source, assembly }: Place): void {
    for (const pass of this.closed) {
      const arrival = source?.arrivalOf(assembly, pass.pass) ?? null;
      const rightly = inTime(pass, arrival, this.event.confirmedMs);
      const placed = arrival === null ? rightly : withLateness(rightly, arrival.lastMs);
      this.axles += placed.axles;
      this.sink.pass(placed, this.railroad.corridorsOf(pass.site));
    }
    this.closed.length = 0;
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
