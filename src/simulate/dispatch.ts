import type { Railroad } from "../line/railroad.ts";
import { HEADWAY_MINUTES } from "./assumptions.ts";
import type { Stop } from "./route.ts";

const MINUTE_MS = 60_000;
/** Between two trains on one track of a site. */
const CLEAR_MS = 2 * MINUTE_MS;
/** Running on the other track of a double line is worth it only when it saves this. */
const WRONG_TRACK_MS = 12 * MINUTE_MS;
/** Rows kept per stretch and per site track; older ones are dropped. */
const MOST_KEPT = 64;

interface Run {
  forward: boolean;
  enterMs: number;
  exitMs: number;
}

interface Slot {
  fromMs: number;
  toMs: number;
}

export interface Passage {
  track: string;
  arriveMs: number;
  /** Trains met on a single track on the way: they cost time and standing. */
  meets: number;
}

/**
 * Keeps trains apart: on one track trains of one direction stay in order with headway between, and no two passes at one
 * site track overlap. On single track opposing trains meet at sidings in between (an assumption; each meet is the
 * caller's stop). Decides in the order in which trains ask.
 */
export class Dispatcher {
  private readonly runs = new Map<string, Run[]>();
  private readonly slots = new Map<string, Slot[]>();
  private readonly railroad: Railroad;

  constructor(railroad: Railroad) {
    this.railroad = railroad;
  }

  /** Tracks on which a train may stand at a stop, given where it goes next; its own side of a double line first. */
  tracksAt(stop: Stop, next: Stop | undefined): string[] {
    const site = this.railroad.sites.get(stop.site);
    if (site === undefined) throw new RangeError(`SIM-004 no site ${stop.site}`);
    const tracks = site.tracks.map((track) => track.id);
    const link = next?.link;
    const usable =
      link === null || link === undefined
        ? tracks
        : tracks.filter((track) => link.tracks.some((pair) => pair[next?.forward === true ? 0 : 1] === track));
    const list = usable.length > 0 ? usable : tracks;
    return stop.direction === "rising" ? list : [...list].reverse();
  }

  /** Holds a site track from about `wantedMs` for a pass; gives when it can begin. */
  hold(site: string, track: string, wantedMs: number, durationMs: number): number {
    const key = `${site}/${track}`;
    const slots = this.slots.get(key) ?? [];
    this.slots.set(key, slots);
    const at = this.freeFrom(slots, wantedMs, durationMs);
    slots.push({ fromMs: at, toMs: at + durationMs });
    slots.sort((a, b) => a.fromMs - b.fromMs);
    if (slots.length > MOST_KEPT) slots.shift();
    return at;
  }

  private freeFrom(slots: Slot[], wantedMs: number, durationMs: number): number {
    let at = wantedMs;
    for (const slot of slots) {
      if (slot.toMs + CLEAR_MS <= at) continue;
      if (slot.fromMs >= at + durationMs + CLEAR_MS) break;
      at = slot.toMs + CLEAR_MS;
    }
    return at;
  }

  /**
   * Takes a train over the link to `stop`. `track`: where it stands now; `runMs`: how long it takes undisturbed;
   * `overtakes`: it may pass a slower one at a siding. null: no track leads there from where it stands.
   */
  travel(
    stop: Stop,
    next: Stop | undefined,
    track: string,
    enterMs: number,
    runMs: number,
    durationMs: number,
    overtakes: boolean,
    meetMs: number,
  ): Passage | null {
    const link = stop.link;
    if (link === null) return null;
    const good = this.tracksAt(stop, next);
    let best: { passage: Passage; key: string; cost: number } | null = null;
    for (const pair of link.tracks) {
      const [here, there] = stop.forward ? pair : [pair[1], pair[0]];
      if (here !== track || !good.includes(there)) continue;
      const key = this.stretchKey(stop, pair);
      const single = this.isSingle(stop);
      const runs = this.runs.get(key) ?? [];
      const opposed = runs.filter((run) => run.forward !== stop.forward && run.exitMs > enterMs && run.enterMs < enterMs + runMs).length;
      const meets = Math.min(3, opposed);
      let exitMs = enterMs + runMs + meets * meetMs;
      for (const run of runs) {
        if (run.forward === stop.forward && !overtakes && run.enterMs <= enterMs) {
          exitMs = Math.max(exitMs, run.exitMs + Math.max(HEADWAY_MINUTES * MINUTE_MS, durationMs + CLEAR_MS));
        }
      }
      const arriveMs = this.freeFrom(this.slots.get(`${stop.site}/${there}`) ?? [], exitMs, durationMs);
      const cost = arriveMs + (there === good[0] || single ? 0 : WRONG_TRACK_MS);
      if (best === null || cost < best.cost) best = { passage: { track: there, arriveMs, meets }, key, cost };
    }
    if (best === null) return null;
    const runs = this.runs.get(best.key) ?? [];
    runs.push({ forward: stop.forward, enterMs, exitMs: best.passage.arriveMs });
    if (runs.length > MOST_KEPT) runs.shift();
    this.runs.set(best.key, runs);
    this.hold(stop.site, best.passage.track, best.passage.arriveMs, durationMs);
    return best.passage;
  }

  private isSingle(stop: Stop): boolean {
    const link = stop.link;
    if (link === null) return false;
    return new Set(link.tracks.map((pair) => pair[0])).size === 1 || new Set(link.tracks.map((pair) => pair[1])).size === 1;
  }

  /** The physical track of a pair: where one end has fewer tracks, that end's. */
  private stretchKey(stop: Stop, pair: [string, string]): string {
    const link = stop.link as NonNullable<Stop["link"]>;
    const froms = new Set(link.tracks.map((item) => item[0])).size;
    const tos = new Set(link.tracks.map((item) => item[1])).size;
    return `${link.from}>${link.to}/${tos < froms ? pair[1] : pair[0]}`;
  }
}
