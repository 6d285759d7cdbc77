import { hindrancesOf } from "./line-change.ts";
import type { Corridor, Direction, Link, Railroad, Site, Way } from "./railroad.ts";

/** States of a railroad that are known at one time: a change every month for eight years. Assumption. */
export const MOST_LINES = 100;

/** What became of a state that was to be taken in. `refused`: why, in words. */
export type LineTaken = "taken" | "known" | { refused: string };

/**
 * A railroad as it was, is and will be: its dated states. Whoever looks something up for a pass asks `of` its site and time,
 * so that an answer depends on the pass alone, never on when it is asked.
 *
 * It is a railroad itself, for whoever shows something or lists all there is: with every site ever known, as last seen up to
 * the time that `turn` came to, and the links of that time.
 */
export class LineBook implements Railroad {
  #states: readonly Railroad[];
  #shown: Railroad;
  #turnedMs = Number.NEGATIVE_INFINITY;
  #sites: Map<string, Site> | null = null;
  #corridors: Corridor[] | null = null;
  readonly #owners = new Map<string, string[]>();
  /** By date: what the contents of its state were, to tell another one from it. */
  readonly #contents = new Map<number, string>();

  /** At least one state, no two from the same instant, each able to follow the others (the loader sees to it). */
  constructor(states: readonly Railroad[]) {
    if (states.length === 0) throw new Error("line book: at least one state of the railroad is needed");
    this.#states = [...states].sort((a, b) => a.fromMs - b.fromMs);
    this.#shown = this.#states[0]!;
  }

  /** Oldest first. */
  get states(): readonly Railroad[] {
    return this.#states;
  }

  /** Nothing ever changes, as far as is known. */
  get isSingle(): boolean {
    return this.#states.length === 1;
  }

  /** Takes in a state announced later. One of the same instant is known already. */
  take(railroad: Railroad): LineTaken {
    if (this.has(railroad.fromMs)) return "known";
    if (this.#states.length >= MOST_LINES) return { refused: `${MOST_LINES} dated states are known already` };
    const hindrances = this.hindrancesTo(railroad);
    if (hindrances.length > 0) return { refused: hindrances.join("; ") };
    this.#states = [...this.#states, railroad].sort((a, b) => a.fromMs - b.fromMs);
    this.#show();
    return "taken";
  }

  /** Why a state cannot stand beside those known; empty when it can. */
  hindrancesTo(railroad: Railroad): string[] {
    return [...new Set(this.#states.flatMap((state) => hindrancesOf(state, railroad)))];
  }

  /** Remembers what a known state was announced with: a digest of it. */
  announcedAs(fromMs: number, digest: string): void {
    this.#contents.set(fromMs, digest);
  }

  /** Whether a known state was announced with these very contents before. */
  wasAnnouncedAs(fromMs: number, digest: string): boolean {
    return this.#contents.get(fromMs) === digest;
  }

  has(fromMs: number): boolean {
    return this.#states.some((state) => state.fromMs === fromMs);
  }

  /** The state in force at a time; before the first one, the first: distances must never be missing. */
  at(timeMs: number): Railroad {
    for (let i = this.#states.length - 1; i > 0; i--) if (this.#states[i]!.fromMs <= timeMs) return this.#states[i]!;
    return this.#states[0]!;
  }

  /** The state that a pass was measured with: the one in force, or, where that has no such site, the nearest before it, else after it. */
  of(site: string, timeMs: number): Railroad {
    const states = this.#states;
    if (states.length === 1) return states[0]!;
    const at = states.indexOf(this.at(timeMs));
    for (let i = at; i >= 0; i--) if (states[i]!.sites.has(site)) return states[i]!;
    for (let i = at + 1; i < states.length; i++) if (states[i]!.sites.has(site)) return states[i]!;
    return states[at]!;
  }

  /** Time has come to `nowMs`, for what is shown. Answers whether another state is in force than before. */
  turn(nowMs: number): boolean {
    if (!(nowMs > this.#turnedMs)) return false;
    this.#turnedMs = nowMs;
    const before = this.#shown;
    if (this.at(nowMs) === before) return false;
    this.#show();
    return true;
  }

  /** The state that time has come to. */
  get now(): Railroad {
    return this.#shown;
  }

  #show(): void {
    this.#shown = this.at(this.#turnedMs);
    this.#sites = null;
    this.#corridors = null;
    this.#owners.clear();
  }

  get id(): string {
    return this.#shown.id;
  }

  get name(): string {
    return this.#shown.name;
  }

  get timeZone(): string {
    return this.#shown.timeZone;
  }

  get demonstration(): boolean {
    return this.#shown.demonstration;
  }

  get fromMs(): number {
    return this.#shown.fromMs;
  }

  get links(): Link[] {
    return this.#shown.links;
  }

  get sites(): Map<string, Site> {
    if (this.isSingle) return this.#shown.sites;
    this.#sites ??= new Map(this.#others().flatMap((state) => [...state.sites]));
    return this.#sites;
  }

  get corridors(): Corridor[] {
    if (this.isSingle) return this.#shown.corridors;
    this.#corridors ??= this.#shown.corridors.map((corridor) => this.#whole(corridor));
    return this.#corridors;
  }

  ahead(site: string, track: string, direction: Direction, hops: number): Way[] {
    return this.of(site, this.#shown.fromMs).ahead(site, track, direction, hops);
  }

  /** Every corridor that ever hears the site, its owner first. */
  corridorsOf(site: string): string[] {
    if (this.isSingle) return this.#shown.corridorsOf(site);
    let owners = this.#owners.get(site);
    if (owners === undefined) {
      owners = [...new Set(this.#states.flatMap((state) => state.corridorsOf(site)))];
      this.#owners.set(site, owners);
    }
    return owners;
  }

  /** All states, the one shown last, so that it has the last word. */
  #others(): Railroad[] {
    return [...this.#states.toReversed().filter((state) => state !== this.#shown), this.#shown];
  }

  #whole({ id, name }: Corridor): Corridor {
    const all = this.#others()
      .toReversed()
      .flatMap((state) => state.corridors.filter((one) => one.id === id));
    const sites = [...new Set(all.flatMap((one) => one.sites))];
    const leadIn = [...new Set(all.flatMap((one) => one.leadIn))].filter((site) => !sites.includes(site));
    return { id, name, sites, leadIn };
  }
}

/** The book of a railroad: itself where it is one already. */
export function lineBookOf(railroad: Railroad): LineBook {
  return railroad instanceof LineBook ? railroad : new LineBook([railroad]);
}

/** A book of one's own: what is announced comes at a place in one's own order. */
export function ownLineBook(railroad: Railroad): LineBook {
  return new LineBook(railroad instanceof LineBook ? railroad.states : [railroad]);
}
