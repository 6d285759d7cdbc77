import type { Pass, PassFlag } from "../pass/pass.ts";
import { LEAST_VEHICLE_AXLES } from "./alignment.ts";
import type { Roster } from "./roster.ts";
import { LEAST_AXLE_INCHES } from "./spacing-score.ts";

/** A pass that may have lost axles for its own reasons sets nothing out. */
const LOSES_AXLES: readonly PassFlag[] = ["no-begin", "no-end", "timed-out", "missing-axles", "count-mismatch", "power"];

/** Axles of the next roster in order: the position each had before and the row it has now, -1 for none. */
export interface Draft {
  positions: number[];
  rows: number[];
}

/** Which axles a train has after a pass: those that are gone leave it, those that came join it, miscounted ones do neither. */
export function mergeAxles(before: Roster, pass: Pass, gaps: Float32Array, positionOfRow: Int32Array): Draft {
  const draft: Draft = { positions: [], rows: [] };
  const keepsAll = LOSES_AXLES.some((flag) => pass.flags.includes(flag));
  let position = 0;
  let looseFrom = 0;
  for (let row = 0; row <= pass.axles; row++) {
    const matched = row < pass.axles ? positionOfRow[row]! : before.axles.length;
    if (matched < 0) continue;
    const gone = matched - position;
    if (gone < LEAST_VEHICLE_AXLES || keepsAll) {
      for (let p = position; p < matched; p++) {
        // What stands impossibly near its neighbour and is not seen again was counted twice when it came in.
        if (before.gapInches[p]! < LEAST_AXLE_INCHES || before.gapInches[p + 1]! < LEAST_AXLE_INCHES) continue;
        draft.positions.push(p);
        draft.rows.push(-1);
      }
    }
    const loose = row - looseFrom;
    if (loose >= LEAST_VEHICLE_AXLES || (gone === 0 && standsFree(gaps, looseFrom, row))) {
      for (let r = looseFrom; r < row; r++) {
        draft.positions.push(-1);
        draft.rows.push(r);
      }
    }
    if (row < pass.axles) {
      draft.positions.push(matched);
      draft.rows.push(row);
    }
    position = matched + 1;
    looseFrom = row + 1;
  }
  return draft;
}

/** A few axles too many that are far enough from their neighbours to be real: missed on the first leg, found now. */
function standsFree(gaps: Float32Array, fromRow: number, toRow: number): boolean {
  for (let r = fromRow; r <= toRow && r < gaps.length; r++) if (!(r === 0 || gaps[r]! >= LEAST_AXLE_INCHES)) return false;
  return true;
}
