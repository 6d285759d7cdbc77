import type { World } from "../../src/simulate/worlds.ts";

/** Trains, weather, warm runners and defects as ever; no fault of a site but those that a test puts in. */
export const SOUND_SITES: Partial<World> = {
  sickShare: 0,
  driftShare: 0,
  coldPerDay: 0,
  deadPerDay: 0,
  silentPerDay: 0,
  directionPerDay: 0,
  clockPerDay: 0,
  latePerDay: 0,
  malformedPerDay: 0,
};
