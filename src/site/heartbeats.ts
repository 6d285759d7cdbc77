import type { Heartbeat } from "../feed/record.ts";
import type { WatchContext } from "./watch-context.ts";
import { AHEAD_SLACK_MS, GAPS_KEPT, MISSED_SHARE, SHORTEST_INTERVAL_MS } from "./watch-numbers.ts";

/** How a site has been heard. Plain data: times are milliseconds by our time, null before the first. */
export interface Hearing {
  heardMs: number | null;
  /** The site's own time of its last heartbeat. */
  beatMs: number | null;
  gapsMs: number[];
  /** The last time during which it was dead: nothing can be held against it for that time. */
  outage: { fromMs: number; toMs: number } | null;
}

/** Sites that fell silent together: one condition, at the first of them. */
interface Connection {
  site: string;
  line: string;
  sites: string[];
  back: string[];
  firstBackMs: number | null;
}

export interface HeartbeatsState {
  sites: Record<string, Hearing>;
  connections: Connection[];
}

const DEAD_ADVICE =
  "No train is measured there. Look at power and communication; bearings are last seen one site earlier than usual, so look at the sites before and after it.";

/**
 * Dead sites: nothing heard for a number of their own heartbeat intervals. Time is that of ticks, which is behind when we
 * are, or of the other sites; so our own lateness makes nobody dead. Sites of one line that fall silent together are one
 * broken connection.
 */
export class Heartbeats {
  private readonly context: WatchContext;
  private readonly hearings = new Map<string, Hearing>();
  private connections: Connection[] = [];

  constructor(context: WatchContext) {
    this.context = context;
    for (const site of context.owned) this.hearings.set(site, { heardMs: null, beatMs: null, gapsMs: [], outage: null });
  }

  /**
   * Any record of a site: it lives. `ms` is the site's own time, `nowMs` ours (minus infinity while nobody can say); it may
   * be as late as `latestMs`.
   */
  heard(site: string, ms: number, nowMs: number, latestMs = nowMs): void {
    const hearing = this.hearingOf(site);
    if (hearing === undefined || !Number.isFinite(ms)) return;
    const atMs = Number.isFinite(nowMs) ? Math.min(Math.max(ms, nowMs), Math.max(nowMs, latestMs) + AHEAD_SLACK_MS) : ms;
    if (hearing.heardMs !== null && this.isTold(site)) hearing.outage = { fromMs: hearing.heardMs, toMs: atMs };
    if (hearing.heardMs === null || atMs > hearing.heardMs) hearing.heardMs = atMs;
    this.context.book.clear(site, "", "dead", atMs, "the site was heard again");
    for (const connection of this.connections) {
      if (!connection.sites.includes(site) || connection.back.includes(site)) continue;
      connection.back.push(site);
      connection.firstBackMs ??= atMs;
      if (connection.back.length === connection.sites.length) this.restored(connection, atMs, "all of them were heard again");
    }
  }

  /** The sites that are owned may change while this runs. */
  private hearingOf(site: string): Hearing | undefined {
    const known = this.hearings.get(site);
    if (known !== undefined || !this.context.owned.has(site)) return known;
    const hearing: Hearing = { heardMs: null, beatMs: null, gapsMs: [], outage: null };
    this.hearings.set(site, hearing);
    return hearing;
  }

  /** A site is not on the line any more; who was silent together with it is judged anew. */
  gone(site: string, atMs: number, reason: string): void {
    this.hearings.delete(site);
    for (const connection of this.connections) if (connection.sites.includes(site)) this.restored(connection, atMs, reason);
  }

  /** Answers false for one that is not later than the last: it was heard before, or comes out of order. */
  heartbeat(record: Heartbeat): boolean {
    const hearing = this.hearingOf(record.site);
    if (hearing === undefined) return false;
    const ms = Date.parse(record.time);
    const gap = hearing.beatMs === null ? Number.NaN : ms - hearing.beatMs;
    if (gap >= SHORTEST_INTERVAL_MS) {
      hearing.gapsMs.push(gap);
      if (hearing.gapsMs.length > GAPS_KEPT) hearing.gapsMs.shift();
      usualGaps.delete(hearing.gapsMs);
    }
    if (hearing.beatMs !== null && ms <= hearing.beatMs) return false;
    hearing.beatMs = ms;
    return true;
  }

  /** Which sites have fallen dead by `nowMs`? Only those whose rhythm is known can. */
  tick(nowMs: number): void {
    this.partlyBack(nowMs);
    const { heartbeat: rules } = this.context.rulesAt(nowMs);
    for (const [site, hearing] of this.hearings) {
      if (!this.isOverdue(hearing, nowMs, rules.deadAfterIntervals) || this.isTold(site)) continue;
      const joined = this.connections.find((one) => one.line === this.lineOf(site) && one.firstBackMs === null);
      if (joined !== undefined) {
        joined.sites = this.inOrder([...joined.sites, site]);
        this.raiseConnection(joined, nowMs);
        continue;
      }
      const together = this.together(site, nowMs);
      if (together.length >= rules.connectionFewestSites) {
        const connection = { site: together[0]!, line: this.lineOf(site), sites: together, back: [], firstBackMs: null };
        this.connections.push(connection);
        this.raiseConnection(connection, nowMs);
      } else this.raiseDead(site, hearing, nowMs);
    }
  }

  /** Milliseconds since a heartbeat was last due; null while the rhythm is not known. For showing. */
  intervalMs(site: string): number | null {
    const hearing = this.hearings.get(site);
    return hearing === undefined || hearing.gapsMs.length === 0 ? null : usualGap(hearing.gapsMs);
  }

  hearing(site: string): Hearing | undefined {
    return this.hearings.get(site);
  }

  /** Dead by itself or with its connection: then nothing else is judged of it. */
  isTold(site: string): boolean {
    if (this.context.book.isOpen(site, "", "dead")) return true;
    return this.connections.some((one) => one.sites.includes(site) && !one.back.includes(site));
  }

  /** Whether a site was dead at some moment of a time that is not long past. */
  wasDead(site: string, fromMs: number, toMs: number): boolean {
    const outage = this.hearings.get(site)?.outage ?? null;
    return outage !== null && outage.fromMs <= toMs && outage.toMs >= fromMs;
  }

  private isOverdue(hearing: Hearing, nowMs: number, intervals: number): boolean {
    if (hearing.heardMs === null || hearing.gapsMs.length === 0) return false;
    return nowMs - hearing.heardMs > intervals * Math.max(usualGap(hearing.gapsMs), SHORTEST_INTERVAL_MS);
  }

  /** Sites of the same line that have missed a heartbeat too, in the order of the line. */
  private together(site: string, nowMs: number): string[] {
    const line = this.lineOf(site);
    const found = [...this.hearings].filter(
      ([other, hearing]) => this.lineOf(other) === line && !this.isTold(other) && this.isOverdue(hearing, nowMs, MISSED_SHARE),
    );
    return this.inOrder(found.map(([other]) => other));
  }

  private inOrder(sites: readonly string[]): string[] {
    const at = (site: string) => this.context.railroad.sites.get(site)?.milepost ?? 0;
    return [...sites].sort((a, b) => at(a) - at(b) || (a < b ? -1 : 1));
  }

  private lineOf(site: string): string {
    return this.context.railroad.sites.get(site)?.line ?? "";
  }

  /** Some sites of a broken connection are back: those that are not by now are dead by themselves. */
  private partlyBack(nowMs: number): void {
    for (const connection of [...this.connections]) {
      if (connection.firstBackMs === null) continue;
      const missing = connection.sites.filter((site) => !connection.back.includes(site));
      const waited = Math.max(...missing.map((site) => this.intervalMs(site) ?? SHORTEST_INTERVAL_MS));
      if (nowMs - connection.firstBackMs <= 2 * waited) continue;
      this.restored(connection, nowMs, `${this.isAre(connection.back)} back; ${this.isAre(missing)} not`);
      for (const site of missing) this.raiseDead(site, this.hearings.get(site)!, nowMs);
    }
  }

  private restored(connection: Connection, atMs: number, reason: string): void {
    this.connections = this.connections.filter((one) => one !== connection);
    this.context.book.clear(connection.site, "", "connection", atMs, reason);
  }

  private isAre(sites: readonly string[]): string {
    return `${this.context.said.sites(sites)} ${sites.length === 1 ? "is" : "are"}`;
  }

  private raiseDead(site: string, hearing: Hearing, nowMs: number): void {
    const lastHeard = this.context.said.time(hearing.heardMs ?? nowMs);
    this.context.book.raise({
      site,
      device: "",
      kind: "dead",
      atMs: nowMs,
      words: `${this.context.said.site(site)} has sent nothing since ${lastHeard}; it used to every ${Math.round(usualGap(hearing.gapsMs) / 60_000)} minutes.`,
      advice: DEAD_ADVICE,
      evidence: `last heard ${lastHeard}`,
    });
  }

  private raiseConnection(connection: Connection, nowMs: number): void {
    const { site, line, sites } = connection;
    const last = sites.map((one) => `${this.context.said.site(one)} ${this.context.said.time(this.hearings.get(one)?.heardMs ?? nowMs)}`);
    this.context.book.raise({
      site,
      device: "",
      kind: "connection",
      atMs: nowMs,
      words: `${sites.length} sites of ${line} fell silent together: ${this.context.said.sites(sites)}. That is more likely their connection than the sites.`,
      advice:
        "Look at the line's communication first. Trains may still be measured there and their crews told; the desk hears nothing of it.",
      evidence: `last heard: ${last.join(", ")}`,
      sites,
    });
  }

  state(): HeartbeatsState {
    return { sites: Object.fromEntries(this.hearings), connections: this.connections };
  }

  restore(state: HeartbeatsState): void {
    for (const [site, hearing] of Object.entries(state.sites))
      if (this.context.owned.has(site)) this.hearings.set(site, { ...hearing, gapsMs: [...hearing.gapsMs] });
    const stillHere = state.connections.filter(({ sites }) => sites.every((site) => this.hearings.has(site)));
    this.connections = stillHere.map((one) => ({ ...one, sites: [...one.sites], back: [...one.back] }));
  }
}

/** What `usualGap` said of a list, until one more is kept: every site is asked for its own at every tick. */
const usualGaps = new WeakMap<readonly number[], number>();

/** The middle of the last gaps: an outage or two does not change it. */
function usualGap(gapsMs: readonly number[]): number {
  let usual = usualGaps.get(gapsMs);
  if (usual === undefined) {
    const sorted = new Float64Array(gapsMs).sort();
    usual = sorted[(sorted.length - 1) >> 1]!;
    usualGaps.set(gapsMs, usual);
  }
  return usual;
}
