import type { AxleReading, FeedRecord, LineAnnounced, Origin, SiteReport, Tick } from "../feed/record.ts";
import { type Refusal, reject } from "../feed/reject.ts";
import { type LineBook, lineBookOf } from "../line/line-book.ts";
import type { Railroad } from "../line/railroad.ts";
import { type Assembly, CLOCK_AHEAD_MS } from "../pass/assemble.ts";
import type { Pass } from "../pass/pass.ts";
import { EventTime } from "./event-time.ts";
import { inTime } from "./in-time.ts";
import { withLateness } from "./lateness.ts";
import { canBeHandedOn, refusedForSize, takeLine } from "./line-announced.ts";
import type { AssembleSink, Outcome } from "./sink.ts";
import { SourceClock } from "./source-clock.ts";
import { TrackAssemblies } from "./track-assemblies.ts";

/** How often, in a feed without ticks, open passes are timed out: in event time. */
const TIME_OUT_EVERY_MS = 60_000;

/** Where a record stands in the log, and when it came; a feed file does not know the latter. */
export interface Arrived extends Origin {
  arrivedMs?: number | undefined;
}

/**
 * The stage that assembles: readings into passes, everything to the corridors concerned. A fold over the order of one
 * source (a partition of an inbound topic), or of several in one file: no clock, no input or output but `sink`.
 *
 * Time is when records came, where the log or its ticks say so; in a plain feed file it is event time that a second site
 * confirms.
 */
export class AssembleFold {
  /** What is announced is added. */
  readonly lines: LineBook;
  private readonly sink: AssembleSink;
  private readonly assembles: (site: string) => boolean;
  private readonly event: EventTime;
  private readonly places = new Map<string, Map<string, TrackAssemblies>>();
  private readonly sources = new Map<string, SourceClock>();
  private readonly everyCorridor: readonly string[];
  private readonly closed: Pass[] = [];
  private timedOutMs = Number.NEGATIVE_INFINITY;
  /** Axles of finished passes. */
  axles = 0;

  /** A book is taken as it is, not copied. `assembles`: sites whose readings are folded here; those of others are passed over. */
  constructor(railroad: Railroad, sink: AssembleSink, assembles: (site: string) => boolean = () => true) {
    this.lines = lineBookOf(railroad);
    this.sink = sink;
    this.assembles = assembles;
    this.event = new EventTime((ms) => this.lines.at(ms).sites.size);
    this.everyCorridor = railroad.corridors.map(({ id }) => id);
    this.restate();
  }

  /** A place for every track that any state of the railroad has. */
  private restate(): void {
    for (const site of this.lines.states.flatMap(({ sites }) => [...sites.values()])) {
      if (!this.assembles(site.id)) continue;
      let tracks = this.places.get(site.id);
      if (tracks === undefined) {
        tracks = new Map();
        this.places.set(site.id, tracks);
      }
      for (const { id } of site.tracks) if (!tracks.has(id)) tracks.set(id, new TrackAssemblies(site.id, id));
    }
    for (const place of this.everyPlace()) {
      place.restate(this.lines.states);
      this.tick(place, place.source === null ? this.timedOutMs : place.source.markMs);
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
      case "line":
        return this.line(record, arrived);
      default:
        return this.report(record, arrived, source);
    }
  }

  /** The end of a recorded feed: passes still open are closed as their time-out would close them. */
  finish(): void {
    for (const place of this.everyPlace()) this.closeAll(place);
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
    const clock = this.sources.get(source);
    // Records that came before the first tick have no clock, and may belong to a pass that is still open.
    return clock?.isForgetful === true ? (clock.refoldFrom ?? began) : began;
  }

  private reading(record: AxleReading, arrived: Arrived, source: SourceClock | null): Outcome {
    const tracks = this.places.get(record.site);
    if (tracks === undefined && this.lines.sites.has(record.site)) return "used";
    const place = tracks?.get(record.track);
    const assembly = place?.for(record, this.lines.isSingle ? Number.NaN : this.timeOf(record, source)) ?? null;
    if (place === undefined || assembly === null) return this.refuse(this.unknownPlace(record, source), record, arrived);
    if (place.source !== source) this.place(place, source);
    const outcome = assembly.step(record, this.closed);
    if (outcome === "used") source?.reading(assembly, record.pass, arrived.offset);
    if (this.closed.length > 0) this.handOn(place, assembly);
    return typeof outcome === "string" ? outcome : this.refuse(outcome, record, arrived);
  }

  /** The time that says which state of the railroad a record belongs to: its own where its clock can be believed, else ours. */
  private timeOf(record: AxleReading | SiteReport, source: SourceClock | null): number {
    const nowMs = source?.nowMs ?? this.event.confirmedMs;
    if (record.type === "axles") return nowMs;
    const ownMs = Date.parse(record.time);
    return Number.isFinite(nowMs) && Math.abs(ownMs - nowMs) > CLOCK_AHEAD_MS ? nowMs : ownMs;
  }

  private unknownPlace(record: AxleReading, source: SourceClock | null): Refusal {
    const isSite = this.lines.at(this.timeOf(record, source)).sites.has(record.site);
    return unknownPlace(record, !isSite);
  }

  /** The first reading of a track: its time is the source's from here on, whatever the site's own clock says. */
  private place(place: TrackAssemblies, source: SourceClock | null): void {
    place.source = source;
    if (source !== null) this.tick(place, source.markMs);
  }

  private report(record: SiteReport, arrived: Arrived, source: SourceClock | null): Outcome {
    const { lines } = this;
    const state = lines.isSingle ? lines.now : lines.at(this.timeOf(record, source));
    if (!state.sites.has(record.site)) return this.refuse(unknownPlace(record, true), record, arrived);
    this.hear(record.site, record.time);
    return this.sink.forward(record, state.corridorsOf(record.site));
  }

  /** A state of the railroad, announced while running: every stage takes it at this place in the log. */
  private line(record: LineAnnounced, arrived: Arrived): Outcome {
    const isHandedOn = canBeHandedOn(Buffer.byteLength(JSON.stringify(record)), this.everyCorridor.length);
    const taken = isHandedOn ? takeLine(record, this.lines) : refusedForSize();
    if (typeof taken !== "string") return this.refuse(taken, record, arrived);
    if (taken === "taken") this.restate();
    this.sink.forward(record, this.everyCorridor);
    return taken === "taken" ? "used" : "repeated";
  }

  /** What names no site of the line, such as a warning, may concern anybody. */
  private concerned(site: string | undefined): readonly string[] {
    return site !== undefined && this.lines.sites.has(site) ? this.lines.corridorsOf(site) : this.everyCorridor;
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
    for (const place of this.everyPlace()) {
      if (place.source !== source) continue;
      this.tick(place, atMs);
      for (const assembly of place.all) assembly.forget(source.forgetsBeforeMs);
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
    for (const place of this.everyPlace()) if (place.source === null) this.tick(place, nowMs);
  }

  private *everyPlace(): Iterable<TrackAssemblies> {
    for (const tracks of this.places.values()) yield* tracks.values();
  }

  private tick(place: TrackAssemblies, atMs: number): void {
    for (const assembly of place.all) {
      assembly.tick(atMs, this.closed);
      if (this.closed.length > 0) this.handOn(place, assembly);
    }
  }

  private closeAll(place: TrackAssemblies): void {
    for (const assembly of place.all) {
      assembly.closeAll(this.closed);
      this.handOn(place, assembly);
    }
  }

  /** Finished passes go to whoever follows them. */
  private handOn({ source }: TrackAssemblies, assembly: Assembly): void {
    for (const pass of this.closed) {
      const arrival = source?.arrivalOf(assembly, pass.pass) ?? null;
      const rightly = inTime(pass, arrival, this.event.confirmedMs);
      const placed = arrival === null ? rightly : withLateness(rightly, arrival.lastMs);
      this.axles += placed.axles;
      this.sink.pass(placed, this.lines.of(pass.site, placed.begunMs).corridorsOf(pass.site));
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
