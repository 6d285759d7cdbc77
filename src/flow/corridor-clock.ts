import type { Tick } from "../feed/record.ts";
import { EventTime } from "./event-time.ts";

/** Sources whose ticks are kept apart: partitions of all inbound topics. Past it the oldest source is forgotten. */
const MOST_SOURCES = 10_000;

/**
 * How far time has come for a corridor. With ticks: as far as the source furthest behind, so that when we ourselves are
 * behind, time is as well and nobody is called dead for it. Without any (a feed file): event time that a second site confirms.
 */
export class CorridorClock {
  private readonly event: EventTime;
  private readonly sources = new Map<string, number>();
  private wanted = 0;
  private lowestMs = Number.NEGATIVE_INFINITY;
  private highestMs = Number.NEGATIVE_INFINITY;

  /** `sitesAt`: how many sites the corridor hears at a time. */
  constructor(sitesAt: (ms: number) => number) {
    this.event = new EventTime(sitesAt);
  }

  hear(site: string, ms: number): void {
    this.event.hear(site, ms);
  }

  tick(tick: Tick): void {
    const ms = Date.parse(tick.time);
    this.wanted = tick.of;
    this.highestMs = Math.max(this.highestMs, ms);
    const knownMs = this.sources.get(tick.source);
    if (knownMs !== undefined && ms <= knownMs) return;
    this.sources.set(tick.source, ms);
    if (this.sources.size > MOST_SOURCES) this.sources.delete(this.sources.keys().next().value as string);
    if (this.sources.size < this.wanted) return;
    this.lowestMs = Math.max(this.lowestMs, Math.min(...this.sources.values()));
  }

  /** Ticks came, so event time has no say any more. */
  get isTicked(): boolean {
    return this.wanted > 0;
  }

  /** As far as the source has come that is furthest on: between it and `nowMs` nobody can say what time it is. */
  get latestMs(): number {
    return this.isTicked ? this.highestMs : this.event.confirmedMs;
  }

  /** Milliseconds since the epoch, never falling; minus infinity while nobody can say. */
  get nowMs(): number {
    return this.isTicked ? this.lowestMs : this.event.confirmedMs;
  }
}
