import type { World } from "./worlds.ts";

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
/** Warmest in mid-afternoon, local time about 6 hours behind UTC. */
const WARMEST_UTC_HOUR = 21;

/** Ambient at a site, °F. */
export function ambientAt(world: World, siteOffsetF: number, timeMs: number): number {
  const phase = ((timeMs % DAY_MS) / HOUR_MS - WARMEST_UTC_HOUR) / 24;
  // A slow front over several days, so that days differ.
  const front = 0.5 * world.ambientSwingF * Math.sin((2 * Math.PI * timeMs) / (5.3 * DAY_MS));
  return world.ambientF + siteOffsetF + world.ambientSwingF * Math.cos(2 * Math.PI * phase) + front;
}

/** Sun on one rail of a site: °F it adds to every reading there, 0 outside its hours. Strongest in the middle of them. */
export function sunAt(sun: { fromHour: number; hours: number; mostF: number }, timeMs: number): number {
  const hour = (timeMs % DAY_MS) / HOUR_MS;
  const into = (hour - sun.fromHour + 24) % 24;
  return into >= sun.hours ? 0 : sun.mostF * Math.sin((Math.PI * into) / sun.hours);
}
