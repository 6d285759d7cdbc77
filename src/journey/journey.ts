import type { Levels } from "../bearing/levels.ts";
import type { Direction } from "../line/railroad.ts";
import type { Pass } from "../pass/pass.ts";
import type { PackedReadings } from "./packed-readings.ts";

/** Why a pass was taken for the same train, in numbers that can be read out. */
export interface JoinEvidence {
  /** Pass id of the leg joined to. */
  from: string;
  miles: number;
  hours: number;
  /** Mean speed over the way. */
  mph: number;
  /** Axles matched, missed by this pass, seen twice or new. */
  matched: number;
  dropped: number;
  added: number;
  missedSingly: number;
  doubled: number;
  /** This pass ran the other way round (last axle first). */
  flipped: boolean;
  /** Spacing scale of this site against the roster, 1 = same. */
  scale: number;
  /** Root mean square of the spacing residuals. */
  residualInches: number;
  train: "same" | "different" | "unknown";
  tagsAgree: number;
  tagsDiffer: number;
  /** Log-odds that it is the same train, and how far ahead of the runner-up. Natural logarithm. */
  score: number;
  margin: number;
  runnerUp: string | null;
  doubts: string[];
}

/** Why a pass was joined to nothing, when there was something it could have been. */
export interface JoinDoubt {
  pass: string;
  kind: "ambiguous" | "implausible-heat" | "weak";
  candidates: { journey: string; score: number }[];
  words: string;
}

/** One pass within a journey. */
export interface Leg {
  pass: Pass;
  /** Miles along the links since the journey's first pass. */
  miles: number;
  /** Direction taken for true: the pass's own unless the join contradicts it. */
  direction: Direction;
  directionDoubted: boolean;
  /** The train ran with its roster reversed (and so its sides swapped in travel terms). */
  flipped: boolean;
  /** Roster axle of each row, -1 for an axle that is not (yet) on the roster. */
  rosterOfRow: Int32Array;
  join: JoinEvidence | null;
  levels: Levels;
  /** Readings of a settled leg, in place of the columns of its pass and its levels: ask by leg-reading.ts. Null, or left out: not packed. */
  packed?: PackedReadings | null;
  /** What else is to be said with it, in sentences: sites out of service beside it. Left out: nothing. */
  notes?: readonly string[];
  /** Sites ahead that are out of service and will not measure the train. Left out: none. */
  outAhead?: readonly string[];
}

/**
 * One train's passes in event-time order. The roster numbers every axle the journey ever had; a number is never
 * used again. A bearing is (roster axle, side), the side being that of travel on the first leg: 0 left, 1 right.
 */
export interface Journey {
  /** From its first pass, so it is the same whatever the order of arrival. */
  id: string;
  train: string | null;
  rosterAxles: number;
  legs: Leg[];
}

/** Row of a roster axle on a leg, -1 when it was not seen there. */
export function rowOfRoster(leg: Leg, rosterAxle: number): number {
  // Rows keep their order, so the row is nearly always at or near the roster number.
  const rows = leg.rosterOfRow;
  const guess = leg.flipped ? rows.length - 1 - rosterAxle : rosterAxle;
  if (rows[guess] === rosterAxle) return guess;
  return rows.indexOf(rosterAxle);
}

/** Rail index (0 left, 1 right, facing rising mileposts) under side `side` of the roster on this leg. */
export function railOfSide(leg: Leg, side: 0 | 1): 0 | 1 {
  return (side ^ (leg.flipped ? 1 : 0) ^ (leg.direction === "falling" ? 1 : 0)) as 0 | 1;
}

/** Side in the direction of travel (0 left, 1 right) of a rail on this leg: what a crew is told. */
export function travelSide(direction: Direction, rail: 0 | 1): 0 | 1 {
  return (rail ^ (direction === "falling" ? 1 : 0)) as 0 | 1;
}
