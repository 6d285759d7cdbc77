import type { Journey } from "../../journey/journey.ts";
import type { DeskState } from "../board/desk-state.ts";
import type { Row } from "../board/row.ts";
import type { Line } from "./line-shape.ts";

/**
 * The journeys of each warned train, in whatever corridor: corridors join by themselves, and a train that runs from one into
 * the next is a journey in each. What they share are its passes.
 */
export function warnedTrains(state: DeskState, rows: readonly Row[]): Line["warned"] {
  return rows.map((row) => ({ id: row.id, journeys: [...journeysOf(state, row)].sort() }));
}

function journeysOf(state: DeskState, row: Row): Set<string> {
  const last = state.board.caseOf(row.id)?.last;
  const passes = new Set(last === undefined ? [] : [last.pass, ...last.evidence.map((one) => one.pass)]);
  const seen = new Set<Journey>();
  // A set that grows while it is walked: the pass that leads into the next corridor may be one that no warning speaks of.
  for (const pass of passes) {
    for (const trains of state.trains.values()) {
      const journey = trains.journeyOf(pass);
      if (journey === null || seen.has(journey)) continue;
      seen.add(journey);
      for (const leg of journey.legs) passes.add(leg.pass.id);
    }
  }
  return new Set([row.journey, ...[...seen].map((journey) => journey.id)]);
}
