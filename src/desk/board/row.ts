import type { AlarmState, Level, Warning } from "../../warning/warning.ts";

/** One warning as the lists show it: plain data, the same on the server and on the page. Temperatures °F, distances miles, times ms. */
export interface Row {
  id: string;
  version: number;
  /** Desk actions on it so far: with the version, what a person has in front of them. */
  actions: number;
  level: Level;
  state: AlarmState;
  /** An action was taken that the last version does not answer yet; `state` already shows what it does. */
  pending: boolean;
  correction: boolean;
  train: string | null;
  journey: string;
  corridor: string;
  site: string;
  track: string;
  /** "car 47" or "locomotive 2" from the head; null: the vehicle could not be told. */
  vehicle: string | null;
  vehicleId: string | null;
  /** The vehicle's bounds or its count are not sure. */
  about: boolean;
  place: string;
  axle: number;
  side: "left" | "right";
  heat: Warning["heat"];
  riseF: number | null;
  slopeFPerMile: number | null;
  limitF: number;
  /** Where the limit between the two ends of its axle is the one that was reached: how much hotter this end was, and that limit. */
  axleDifference: { overF: number; limitF: number } | null;
  /** The critical limit was reached, now or before: a lower reading does not take it back. */
  critical: boolean;
  /** Event time of the last pass of the journey as this version knew it: everything "ahead" counts from there. */
  timeMs: number;
  /** When the bearing was last measured; null: never. */
  readMs: number | null;
  /** Speed over that site; null when it was not measured. */
  mph: number | null;
  crossing: { low: number; miles: number; high: number; milepost: number | null; line: string | null; chance: number } | null;
  /** Chance of reaching the limit before the next site, as the engine reckons it; null: not reckoned, or the limit is reached already. */
  chanceNextSite: number | null;
  setOut: { name: string; miles: number; milepost: number; carLengths: number } | null;
  lastSeenMiles: number;
  /** Who has it: the one it is assigned to, else who acknowledged it. */
  owner: string | null;
  /** Last thing done about the train, in the words of the action. */
  done: { what: "told-crew" | "train-stopped" | "set-out"; by: string; timeMs: number } | null;
  shelvedUntilMs: number | null;
  /** Event time of its first version, and of the last rise of its level. */
  raisedMs: number;
  escalatedMs: number;
  advice: string;
  caution: string;
  /** Warnings of other corridors of the same bearing, by the readings behind them; and whether this one speaks for all of them. */
  same: string[];
  leads: boolean;
}

/** Speed of the train as the warning knew it: its two slopes, or its two distances to the crossing, differ by just that. */
export function mphOf(warning: Pick<Warning, "slopeFPerMile" | "slopeFPerMinute" | "crossing">): number | null {
  const { slopeFPerMile, slopeFPerMinute, crossing } = warning;
  if (crossing !== null && crossing.minutes !== null && crossing.minutes > 0) return (crossing.miles / crossing.minutes) * 60;
  if (slopeFPerMile === null || slopeFPerMinute === null || slopeFPerMile === 0) return null;
  const mph = (slopeFPerMinute / slopeFPerMile) * 60;
  return mph > 0 ? mph : null;
}

export function vehicleWords(vehicle: Warning["vehicle"]): string | null {
  return vehicle === null ? null : `${vehicle.kind} ${vehicle.ordinalOfKind}`;
}
