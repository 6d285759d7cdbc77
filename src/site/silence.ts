import type { Journey, Leg } from "../journey/journey.ts";
import type { Pass } from "../pass/pass.ts";
import type { Heartbeats } from "./heartbeats.ts";
import { passedOver } from "./passed-over.ts";
import type { WatchContext } from "./watch-context.ts";
import { PASS_GRACE_MS } from "./watch-numbers.ts";

/** A train that was seen on both sides of a site and not at it. */
interface Missed {
  /** The pass that it was next seen with. */
  pass: string;
  site: string;
  /** The only track it can have run on, else "". */
  track: string;
  fromMs: number;
  toMs: number;
  isCounted: boolean;
}

interface RecentPass {
  id: string;
  endedMs: number;
  track: string;
  isJoined: boolean;
}

export interface SilenceState {
  missed: Missed[];
  passes: Record<string, RecentPass[]>;
  total: Record<string, number>;
}

/** Missed trains and passes remembered of one site; the oldest go. */
const MOST_MISSED = 200;
const MOST_PASSES = 12;

/**
 * Silent sites: heartbeats come, trains do not. A train counts as missed when it was seen on both sides, the site told
 * meanwhile that it lives, and no pass of the site in that time is without a train of its own.
 */
export class Silence {
  private readonly context: WatchContext;
  private readonly heartbeats: Heartbeats;
  private missed: Missed[] = [];
  private readonly passes = new Map<string, RecentPass[]>();
  private readonly total = new Map<string, number>();

  constructor(context: WatchContext, heartbeats: Heartbeats) {
    this.context = context;
    this.heartbeats = heartbeats;
  }

  /** A pass was placed, perhaps not for the last time: what it says of its own site and of those that it ran over unheard. */
  placed(journey: Journey, leg: Leg): void {
    const { pass } = leg;
    if (this.context.owned.has(pass.site)) this.reported(pass, leg.join !== null);
    this.missed = this.missed.filter((one) => one.pass !== pass.id || one.isCounted);
    const before = journey.legs[journey.legs.indexOf(leg) - 1];
    if (before === undefined) return;
    for (const { site, tracks } of passedOver(this.context.railroad, journey, leg)) {
      if (!this.context.owned.has(site) || this.missed.some((one) => one.pass === pass.id && one.site === site)) continue;
      const track = tracks.length === 1 ? tracks[0]! : "";
      this.missed.push({ pass: pass.id, site, track, fromMs: before.pass.begunMs, toMs: pass.begunMs, isCounted: false });
    }
    if (this.missed.length > MOST_MISSED) this.missed.splice(0, this.missed.length - MOST_MISSED);
  }

  private reported(pass: Pass, isJoined: boolean): void {
    const { site, track } = pass;
    let recent = this.passes.get(site);
    if (recent === undefined) {
      recent = [];
      this.passes.set(site, recent);
    }
    const known = recent.find((one) => one.id === pass.id);
    if (known !== undefined) {
      known.isJoined = isJoined;
      return;
    }
    recent.push({ id: pass.id, endedMs: pass.endedMs, track, isJoined });
    if (recent.length > MOST_PASSES) recent.shift();
    const words = `pass ${pass.pass} was reported`;
    this.context.book.clear(site, "", "silent", pass.endedMs, words);
    this.context.book.clear(site, track, "silent", pass.endedMs, words);
    // Only what went before is made good by it: while a pass is on its way, later trains can be missed.
    this.missed = this.missed.filter((one) => one.site !== site || (one.track !== "" && one.track !== track) || one.fromMs > pass.endedMs);
  }

  /** Time has come to `nowMs`: trains missed for good are counted. */
  tick(nowMs: number): void {
    for (const one of this.missed) {
      if (one.isCounted || nowMs < one.toMs + PASS_GRACE_MS) continue;
      if (this.heartbeats.isTold(one.site) || this.heartbeats.wasDead(one.site, one.fromMs, one.toMs) || this.isExcused(one)) {
        one.pass = "";
        continue;
      }
      const beatMs = this.heartbeats.hearing(one.site)?.beatMs ?? null;
      // Without a word since then it may be about to fall dead, or its line is down: that is for the heartbeats to say.
      if (beatMs === null || beatMs < one.toMs) continue;
      one.isCounted = true;
      if (this.hasReportedSince(one)) one.pass = "";
      this.total.set(one.site, (this.total.get(one.site) ?? 0) + 1);
      if (one.pass !== "") this.judge(one, nowMs);
    }
    this.missed = this.missed.filter((one) => one.pass !== "");
  }

  /** A pass of the site in that time that belongs to no other train may be this one, not recognized. */
  private isExcused({ site, fromMs, toMs }: Missed): boolean {
    return (this.passes.get(site) ?? []).some((pass) => !pass.isJoined && pass.endedMs >= fromMs && pass.endedMs <= toMs);
  }

  /** It reports trains again (or missed one only): no row of missed trains. */
  private hasReportedSince({ site, track, fromMs }: Missed): boolean {
    return (this.passes.get(site) ?? []).some((pass) => pass.endedMs >= fromMs && (track === "" || track === pass.track));
  }

  private judge(last: Missed, nowMs: number): void {
    const { site } = last;
    const counted = this.missed.filter((one) => one.site === site && one.isCounted);
    const sameTrack = counted.filter((one) => one.track === last.track);
    const wanted = this.context.rulesAt(nowMs).silentAfterTrains;
    const hasTracks = (this.context.railroad.sites.get(site)?.tracks.length ?? 1) > 1;
    const firstMs = Math.min(...sameTrack.map((one) => one.fromMs));
    const others = (this.passes.get(site) ?? []).filter((pass) => pass.track !== last.track && pass.endedMs >= firstMs);
    const someTracksOnly = hasTracks && last.track !== "" && others.length > 0;
    const trains = someTracksOnly ? sameTrack : counted;
    if (trains.length < wanted) return;
    const where = someTracksOnly
      ? `${this.context.said.site(site)} reports only some of its tracks: none of the last ${trains.length} trains on track ${last.track}`
      : `${this.context.said.site(site)} sends heartbeats but reported none of the last ${trains.length} trains`;
    this.context.book.raise({
      site,
      device: someTracksOnly ? last.track : "",
      kind: "silent",
      atMs: nowMs,
      words: `${where} that were seen on both sides of it.`,
      advice: "Look at transducers and pass detection. Trains are not measured there.",
      evidence: `pass ${last.pass} was seen at the next site, between ${this.context.said.time(last.fromMs)} and ${this.context.said.time(last.toMs)}`,
    });
  }

  /** Trains that a site missed so far. For showing. */
  missedTrains(site: string): number {
    return this.total.get(site) ?? 0;
  }

  /** A site, or a track of it, is not on the line any more. */
  gone(site: string, track: string): void {
    this.missed = this.missed.filter((one) => one.site !== site || (track !== "" && one.track !== track));
    const passes = track === "" ? [] : (this.passes.get(site) ?? []).filter((one) => one.track !== track);
    if (passes.length > 0) this.passes.set(site, passes);
    else this.passes.delete(site);
    if (track === "") this.total.delete(site);
  }

  state(): SilenceState {
    return { missed: this.missed, passes: Object.fromEntries(this.passes), total: Object.fromEntries(this.total) };
  }

  restore(state: SilenceState): void {
    this.passes.clear();
    this.total.clear();
    this.missed = state.missed.map((one) => ({ ...one }));
    for (const [site, passes] of Object.entries(state.passes))
      this.passes.set(
        site,
        passes.map((one) => ({ ...one })),
      );
    for (const [site, total] of Object.entries(state.total)) this.total.set(site, total);
  }
}
