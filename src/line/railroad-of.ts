import type { Railroad } from "./railroad.ts";
import { reachOf } from "./reach.ts";

/** What a railroad is made of: plain data, which can be handed to another thread. */
export type RailroadParts = Omit<Railroad, "ahead" | "corridorsOf">;

/** The railroad of these parts, with all that is looked up in it. Its contents are not to be changed. */
export function railroadOf(parts: RailroadParts): Railroad {
  const { sites, links, corridors } = parts;
  const owners = new Map<string, string[]>([...sites.keys()].map((site) => [site, []]));
  for (const corridor of corridors) for (const site of corridor.sites) owners.get(site)!.push(corridor.id);
  for (const corridor of corridors) for (const site of corridor.leadIn) owners.get(site)!.push(corridor.id);
  for (const list of owners.values()) Object.freeze(list);
  const none: string[] = [];
  Object.freeze(none);
  return { ...parts, ahead: reachOf(sites, links), corridorsOf: (site) => owners.get(site) ?? none };
}

/** The parts of a railroad again. */
export function partsOf({ ahead: _ahead, corridorsOf: _corridorsOf, ...parts }: Railroad): RailroadParts {
  return parts;
}
