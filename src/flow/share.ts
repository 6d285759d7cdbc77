import type { Railroad } from "../line/railroad.ts";

/**
 * The corridors that one of several flows folds, each in a thread of its own. All of them see the whole feed, so event time
 * is the same in all; each assembles only the sites that its corridors hear. What a record came to is told once: by the
 * share of the corridor that owns its site, or by the first share where it has none.
 */
export interface Share {
  /** Whether the corridor is folded here. */
  folds(corridor: string): boolean;
  /** Whether a corridor that is folded here hears the site; those that no corridor hears are the first share's. */
  hears(site: string): boolean;
  /** Whether what a record of this site came to is told here; `undefined`: a record of no site. */
  tells(site: string | undefined): boolean;
}

/** A flow that does everything. */
export const WHOLE: Share = { folds: () => true, hears: () => true, tells: () => true };

interface SiteHere {
  corridors: readonly string[];
  isHeard: boolean;
  isTold: boolean;
}

/** The share of these corridors; exactly one of a railroad's shares is the first. */
export function shareOf(railroad: Railroad, corridors: readonly string[], isFirst: boolean): Share {
  const folded = new Set(corridors);
  const sites = new Map<string, SiteHere>();
  const here = (site: string): SiteHere => {
    const theirs = railroad.corridorsOf(site);
    let known = sites.get(site);
    if (known?.corridors === theirs) return known;
    const [owner] = theirs;
    known = {
      corridors: theirs,
      isHeard: owner === undefined ? isFirst : theirs.some((corridor) => folded.has(corridor)),
      isTold: owner === undefined ? isFirst : folded.has(owner),
    };
    // Names that are no site's may be of any number.
    if (owner !== undefined) sites.set(site, known);
    return known;
  };
  return {
    folds: (corridor) => folded.has(corridor),
    hears: (site) => here(site).isHeard,
    tells: (site) => (site === undefined ? isFirst : here(site).isTold),
  };
}
