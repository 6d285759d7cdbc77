import type { LineAnnounced } from "../feed/record.ts";
import { type LineBook, ownLineBook } from "../line/line-book.ts";
import type { Railroad } from "../line/railroad.ts";
import type { Watch } from "../site/watch.ts";
import { takeLine } from "./line-announced.ts";

/** A state of the railroad that was over for so long is not restated: longer than a re-fold reaches back. */
const LINE_KEPT_MS = 48 * 3_600_000;

/** The railroad as one corridor knows it: its own book of states, and which sites are its own by the state that time has come to. */
export class CorridorLine {
  readonly book: LineBook;
  /** Kept in place: the watch looks at this very set. */
  readonly owned: Set<string>;
  /** How many sites it hears, those of the lead-in included. */
  readonly heard: number;
  private readonly id: string;
  private readonly announced: LineAnnounced[] = [];

  /** @throws Error when the railroad has no such corridor, which its file's check refuses */
  constructor(id: string, railroad: Railroad) {
    this.book = ownLineBook(railroad);
    const corridor = this.book.corridors.find((one) => one.id === id);
    if (corridor === undefined) throw new Error(`corridor ${id} is not in the line file; the file should have been refused`);
    this.id = id;
    this.heard = corridor.sites.length + corridor.leadIn.length;
    this.owned = new Set(this.ownedNow());
  }

  /** Takes in an announced state; answers from when on it holds, or null when it was known or cannot follow. */
  take(line: LineAnnounced, markMs: number, watch: Watch): number | null {
    const before = this.book.now;
    if (takeLine(line, this.book) !== "taken") return null;
    this.announced.push(line);
    this.turned(before, markMs, watch);
    return fromMsOf(line);
  }

  /** Time has come to a mark: from here on the watch looks after the sites of the state then in force. */
  turn(markMs: number, watch: Watch): void {
    const before = this.book.now;
    if (this.book.turn(markMs)) this.turned(before, markMs, watch);
  }

  /** Announced states that a re-fold must find again: not those that were over long before it begins. */
  toKeep(markMs: number): LineAnnounced[] {
    const overMs = this.book.at(markMs - LINE_KEPT_MS).fromMs;
    return this.announced.filter((line) => fromMsOf(line) >= overMs);
  }

  private turned(before: Railroad, markMs: number, watch: Watch): void {
    const after = this.book.now;
    if (after === before) return;
    const sites = this.ownedNow();
    for (const site of this.owned) {
      const tracks = after.sites.get(site)?.tracks ?? [];
      if (!sites.includes(site)) watch.gone(site, "", markMs);
      else
        for (const { id } of before.sites.get(site)?.tracks ?? []) if (!tracks.some((one) => one.id === id)) watch.gone(site, id, markMs);
    }
    this.owned.clear();
    for (const site of sites) {
      this.owned.add(site);
      watch.added(site);
    }
  }

  private ownedNow(): readonly string[] {
    return this.book.now.corridors.find((one) => one.id === this.id)!.sites;
  }
}

function fromMsOf({ line }: LineAnnounced): number {
  return Date.parse(String(line["from"]));
}
