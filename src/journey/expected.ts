import type { OpenJourney } from "./open-journey.ts";
import type { Route } from "./route.ts";

/** One journey that could be heard next at a site, and how it would come there. */
export interface Expected {
  open: OpenJourney;
  routes: readonly Route[];
  /** The entries of that site, and where this one stands among them. */
  among: Expected[];
  at: number;
}

/** The journeys that could be heard next, by site. Entries of a site are in no particular order. */
export class ExpectedAt {
  private readonly sites = new Map<string, Expected[]>();

  /** Null when no journey ever was expected there. */
  at(site: string): readonly Expected[] | null {
    return this.sites.get(site) ?? null;
  }

  /** Enters a journey at every site that it has routes to. */
  add(open: OpenJourney): void {
    for (const [site, routes] of open.routes) {
      let among = this.sites.get(site);
      if (among === undefined) {
        among = [];
        this.sites.set(site, among);
      }
      const entry: Expected = { open, routes, among, at: among.length };
      among.push(entry);
      open.expected.push(entry);
    }
  }

  /** Takes a journey out wherever it was entered. */
  remove(open: OpenJourney): void {
    for (const { among, at } of open.expected) {
      const last = among.pop()!;
      if (at === among.length) continue;
      among[at] = last;
      last.at = at;
    }
    open.expected.length = 0;
  }
}
