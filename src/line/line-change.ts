import type { Railroad } from "./railroad.ts";

/**
 * Why one dated state of a railroad cannot follow another while everything runs, in words; empty when it can. Sites, tracks,
 * units, mileposts, links, distances, set-out places and lead-in sites may change. Corridors may not: what a corridor knows
 * of its sites (open warnings and conditions, learned biases) cannot be handed to another one.
 */
export function hindrancesOf(before: Railroad, after: Railroad): string[] {
  const hindrances: string[] = [];
  if (before.id !== after.id) hindrances.push(`the railroad is ${after.id}, and was ${before.id}`);
  if (before.timeZone !== after.timeZone) hindrances.push(`its time zone is ${after.timeZone}, and was ${before.timeZone}`);
  const were = new Set(before.corridors.map(({ id }) => id));
  const are = new Set(after.corridors.map(({ id }) => id));
  for (const id of were) if (!are.has(id)) hindrances.push(`corridor ${id} is gone`);
  for (const id of are) if (!were.has(id)) hindrances.push(`corridor ${id} is new`);
  for (const site of after.sites.keys()) {
    const [owned] = before.corridorsOf(site);
    const [owns] = after.corridorsOf(site);
    if (owned !== undefined && owned !== owns) hindrances.push(`site ${site} moves from corridor ${owned} to ${owns}`);
  }
  return hindrances;
}

/** What to do about a change that cannot be made while running. */
export const RESTART_ADVICE =
  "Stop bearing-rise, leave only the new file in place of all of them, and start it: corridors begin anew with it. Other changes can be made while running.";
