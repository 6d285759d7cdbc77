import { type Fingerprint, PrintBoard } from "./fingerprint.ts";
import type { OpenJourney } from "./open-journey.ts";
import type { Route } from "./route.ts";

/** One journey that could be heard next at a site, and how it would come there. */
export interface Expected {
  open: OpenJourney;
  /** The journey's place on the board. */
  place: number;
  routes: readonly Route[];
  /** The entries of that site, and where this one stands among them. */
  among: Expected[];
  at: number;
}

/**
 * The journeys that could be heard next, by site, and a board of what each is known by: when it was last heard and its
 * pattern of spacings. Entries of a site are in no particular order.
 */
export class ExpectedAt {
  private readonly sites = new Map<string, Expected[]>();
  private readonly prints = new PrintBoard();
  private begunMs = new Float64Array(64);
  private endedMs = new Float64Array(64);
  private readonly free: number[] = [];
  private places = 0;

  /** Null when no journey ever was expected there. */
  at(site: string): readonly Expected[] | null {
    return this.sites.get(site) ?? null;
  }

  /** When the first axle of its last pass was over the site, and the last one. */
  lastBegunMs(place: number): number {
    return this.begunMs[place]!;
  }

  lastEndedMs(place: number): number {
    return this.endedMs[place]!;
  }

  /** As `couldMatch` of its roster's pattern. */
  couldMatch(place: number, print: Fingerprint): boolean {
    return this.prints.couldMatch(place, print);
  }

  /** Enters a journey at every site that it has routes to, as it was last heard. */
  add(open: OpenJourney): void {
    if (open.routes.size === 0) return;
    const place = this.free.pop() ?? this.newPlace();
    this.begunMs[place] = open.last.pass.begunMs;
    this.endedMs[place] = open.last.pass.endedMs;
    this.prints.put(place, open.roster.print);
    for (const [site, routes] of open.routes) {
      let among = this.sites.get(site);
      if (among === undefined) {
        among = [];
        this.sites.set(site, among);
      }
      const entry: Expected = { open, place, routes, among, at: among.length };
      among.push(entry);
      open.expected.push(entry);
    }
  }

  /** Takes a journey out wherever it was entered. */
  remove(open: OpenJourney): void {
    const { expected } = open;
    if (expected.length === 0) return;
    this.free.push(expected[0]!.place);
    for (const { among, at } of expected) {
      const last = among.pop()!;
      if (at === among.length) continue;
      among[at] = last;
      last.at = at;
    }
    expected.length = 0;
  }

  private newPlace(): number {
    if (this.places === this.begunMs.length) {
      this.begunMs = widened(this.begunMs);
      this.endedMs = widened(this.endedMs);
    }
    return this.places++;
  }
}

function widened(column: Float64Array): Float64Array<ArrayBuffer> {
  const wider = new Float64Array(2 * column.length);
  wider.set(column);
  return wider;
}
