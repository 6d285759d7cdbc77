import { type Journey, type Leg, rowOfRoster } from "../journey/journey.ts";

/** Rows a leg can have, with room (a pass holds at most 2,000 axles). */
const ROWS = 2048;

/**
 * Name of an axle that is not on the journey's roster (an axle counted twice, say): it has no history and no future, but a
 * limit it reached must be told all the same. Negative, unique within the journey, used in the place of a roster axle.
 */
export function axleOffRoster(legIndex: number, row: number): number {
  return -1 - (legIndex * ROWS + row);
}

export function isOffRoster(rosterAxle: number): boolean {
  return rosterAxle < 0;
}

/** Row of an axle on a leg of its journey, on the roster or off it; -1 when it was not seen there. */
export function rowOn(leg: Leg, legIndex: number, rosterAxle: number): number {
  if (!isOffRoster(rosterAxle)) return rowOfRoster(leg, rosterAxle);
  const name = -1 - rosterAxle;
  return Math.floor(name / ROWS) === legIndex ? name % ROWS : -1;
}

/** The latest leg up to `legIndex` whose pass holds the axle, and its row there. */
export function lastSeen(journey: Journey, legIndex: number, rosterAxle: number): { leg: Leg; row: number } | null {
  for (let i = legIndex; i >= 0; i--) {
    const leg = journey.legs[i]!;
    const row = rowOn(leg, i, rosterAxle);
    if (row >= 0) return { leg, row };
  }
  return null;
}
