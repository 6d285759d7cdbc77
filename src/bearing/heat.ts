import { type Journey, railOfSide, rowOfRoster } from "../journey/journey.ts";
import { FASTEST_COOLING_F_PER_MINUTE, FASTEST_HEATING_F_PER_MINUTE, MODEL_NUMBERS, type ModelNumbers } from "./model-numbers.ts";
import { sharedHeat } from "./sight.ts";
import type { BearingReading, BearingTrack, HeatKind } from "./track.ts";

/** Under so many spreads over its side a bearing is not hot in itself (assumption). */
const HOT_SPREADS = 2.5;
/** With this share of its heat common to axle, vehicle or wheel it is the brakes' (assumption). */
const BRAKES_SHARE = 0.5;
/** So many times the fastest published heating, and cooling after it: no bearing does that (assumption on a [P] figure). */
const BEYOND_PHYSICS = 3;
const MS_PER_MINUTE = 60_000;

/** What makes a scanner's own word on a single bearing worth little. */
const SCANNER_DOUBTS = new Set(["scanner-flagged", "scanner-flat", "units-doubted", "power"]);

/** What kind of heat a bearing of a journey shows on a leg: see heatOf. `track`: its readings up to that leg. */
export function heatKind(journey: Journey, legIndex: number, rosterAxle: number, side: 0 | 1, track: BearingTrack): HeatKind {
  const leg = journey.legs[legIndex]!;
  if (rowOfRoster(leg, rosterAxle) < 0) return heatOf(track, []);
  return heatOf(track, leg.levels.doubts[railOfSide(leg, side)]);
}

/**
 * What kind of heat the newest reading of a track shows. One end of one axle: bearing. Both ends of an axle, its wheel or the whole
 * vehicle: brakes. A whole side of the train: sun, or the scanner. A jump that no physics allows, or heat that only a scanner in doubt
 * has seen: scanner. `doubts` are those of the rail on that pass (Levels.doubts).
 */
export function heatOf(track: BearingTrack, doubts: readonly string[], numbers: ModelNumbers = MODEL_NUMBERS): HeatKind {
  const last = newest(track);
  if (last === null) return "none";
  const reading = track[last]!;
  if (!isHot(reading)) return doubts.includes("side-hot") ? "sun" : "none";
  if (jumpsBeyondPhysics(track, last)) return "scanner";
  if (sharedHeat(reading, numbers) >= BRAKES_SHARE * reading.excessF) return "brakes";
  if (doubts.some((word) => SCANNER_DOUBTS.has(word)) && !track.some((other) => isHot(other) && !other.doubted)) return "scanner";
  return "bearing";
}

function isHot(reading: BearingReading): boolean {
  return reading.excessF > HOT_SPREADS * reading.spreadF;
}

/** One sentence for whoever reads a warning. */
export function heatWords(kind: HeatKind): string {
  return HEAT_WORDS[kind];
}

const HEAT_WORDS: Record<HeatKind, string> = {
  bearing: "One end of one axle is hot: the bearing itself.",
  brakes: "The heat is shared by the axle's other end, its wheel or the whole vehicle: brakes rather than the bearing.",
  scanner: "The scanner is in doubt, or the reading jumps faster than any bearing heats.",
  sun: "A whole side of the train reads hot: sun or the scanner rather than a bearing.",
  none: "The bearing is not hot against the rest of its side.",
};

function newest(track: BearingTrack): number | null {
  for (let i = track.length - 1; i >= 0; i--) if (Number.isFinite(track[i]!.excessF)) return i;
  return null;
}

function jumpsBeyondPhysics(track: BearingTrack, last: number): boolean {
  const now = track[last]!;
  for (let i = last - 1; i >= 0; i--) {
    const before = track[i]!;
    if (!Number.isFinite(before.excessF)) continue;
    const rate = ratePerMinute(before, now);
    return rate > BEYOND_PHYSICS * FASTEST_HEATING_F_PER_MINUTE || rate < -BEYOND_PHYSICS * FASTEST_COOLING_F_PER_MINUTE;
  }
  return false;
}

/** Change of a bearing over its side between two readings, °F a minute. */
export function ratePerMinute(before: BearingReading, now: BearingReading): number {
  const minutes = (now.timeMs - before.timeMs) / MS_PER_MINUTE;
  return minutes > 0 ? (now.excessF - before.excessF) / minutes : Number.NaN;
}
