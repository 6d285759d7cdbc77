import { directionsOf } from "./line-draft.ts";
import type { LineFile, LinkEntry, SiteEntry } from "./line-schema.ts";
import type { Link, Site } from "./railroad.ts";

/** A site with the units of the file where it has none of its own. */
export function siteOf(entry: SiteEntry, units: LineFile["units"]): Site {
  const { id, name, line, milepost, kind, tracks } = entry;
  const own = entry.units ?? {};
  return {
    id,
    name,
    line,
    milepost,
    kind,
    tracks,
    units: {
      temperature: own.temperature ?? units.temperature,
      reading: own.reading ?? units.reading,
      gap: own.gap ?? units.gap,
      speed: own.speed ?? units.speed,
    },
  };
}

/** A link of a file without mistakes: its sites are there and its directions are known. Set-out places by rising miles. */
export function linkOf(entry: LinkEntry, sites: ReadonlyMap<string, SiteEntry>): Link {
  const directions = directionsOf(entry, sites.get(entry.from)!, sites.get(entry.to)!)!;
  return {
    from: entry.from,
    to: entry.to,
    miles: entry.miles,
    ...directions,
    tracks: entry.tracks,
    fastestMph: entry.fastestMph,
    setOuts: entry.setOuts
      .map(({ trains, ...place }) => ({ ...place, forward: trains !== "backward", backward: trains !== "forward" }))
      .sort((a, b) => a.miles - b.miles || (a.id < b.id ? -1 : 1)),
  };
}
