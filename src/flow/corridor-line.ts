import type { LineAnnounced } from "../feed/record.ts";
import { type LineBook, ownLineBook } from "../line/line-book.ts";
import type { Corridor, Railroad } from "../line/railroad.ts";
import type { Watch } from "../site/watch.ts";
import { fromMsOf, takeLine } from "./line-announced.ts";

/** A state of the railroad that was over for so long is not restated: longer than a re-fold reaches back. */
const LINE_KEPT_MS = 48 * 3_600_000;

/** The railroad as one corridor knows it: its own book of states, and which sites are its own by the state that time has come to. */
export class CorridorLine {
  readonly book: LineBook;
  /** Kept in place: the watch looks at this very set. */
  readonly owned: Set<string>;
  private readonly id: string;
  /** Announced in this corridor's input, whether it was known from the files or not: one for each date. */
  private readonly announced: LineAnnounced[] = [];

  /** @throws Error when the railroad has no such corridor, which its file's check refuses */
  constructor(id: string, railroad: Railroad) {
    this.book = ownLineBook(railroad);
    if (!this.book.corridors.some((one) => one.id === id))
      throw new Error(`corridor ${id} is not in the line file; the file should have been refused`);
    this.id = id;
    this.owned = new Set(this.ownedNow());
  }

  /** How many sites it hears at a time, those of the lead-in included. */
  heardAt(ms: number): number {
    const { sites, leadIn } = this.corridorOf(this.book.at(ms));
    return sites.length + leadIn.length;
  }

  /**
   * Takes in an announced state; answers from when on it holds, or null when it was known or cannot follow. One known from
   * the files is kept as well, so that what is restated does not depend on when this process began.
   */
  take(line: LineAnnounced, markMs: number, watch: Watch): number | null {
    const before = this.book.now;
    const taken = takeLine(line, this.book);
    if (typeof taken !== "string") return null;
    const fromMs = fromMsOf(line);
    if (!this.announced.some((one) => fromMsOf(one) === fromMs)) this.announced.push(line);
    if (taken === "known") return null;
    this.turned(before, markMs, watch);
    return fromMs;
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
    // Before anybody can say what time it is, nothing can be over.
    for (const site of Number.isFinite(markMs) ? this.owned : []) {
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
    return this.corridorOf(this.book.now).sites;
  }

  private corridorOf({ corridors }: Railroad): Corridor {
    return corridors.find((one) => one.id === this.id)!;
  }
}
