import { LineBook } from "./line-book.ts";
import type { Railroad } from "./railroad.ts";
import { reachOf } from "./reach.ts";

/** What a railroad is made of: plain data, which can be handed to another thread. `states`: of a book, all that it knows. */
export type RailroadParts = Omit<Railroad, "ahead" | "corridorsOf"> & { states?: RailroadParts[] };

/** The railroad of these parts, with all that is looked up in it. Its contents are not to be changed. */
export function railroadOf(parts: RailroadParts): Railroad {
  const { sites, links, corridors, states } = parts;
  if (states !== undefined) return new LineBook(states.map(railroadOf));
  const owners = new Map<string, string[]>([...sites.keys()].map((site) => [site, []]));
  for (const corridor of corridors) for (const site of corridor.sites) owners.get(site)!.push(corridor.id);
  for (const corridor of corridors) for (const site of corridor.leadIn) owners.get(site)!.push(corridor.id);
  for (const list of owners.values()) Object.freeze(list);
  const none: string[] = [];
  Object.freeze(none);
  return { ...parts, ahead: reachOf(sites, links), corridorsOf: (site) => owners.get(site) ?? none };
}

/** The parts of a railroad again. */
export function partsOf(railroad: Railroad): RailroadParts {
  const { id, name, timeZone, demonstration, fromMs, sites, links, corridors } = railroad;
  const parts = { id, name, timeZone, demonstration, fromMs, sites, links, corridors };
  return railroad instanceof LineBook ? { ...parts, states: railroad.states.map(partsOf) } : parts;
}
