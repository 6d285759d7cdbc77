import type { TripCounts } from "./outcome.ts";
import type { TrainScores } from "./score-train.ts";

/** The usual setting in the literature: above ambient, or over the other end of the axle (scholarworks.utrgv.edu/me_fac/185 [P]), °F. */
const LIMIT_F = 170;
const AXLE_DIFFERENCE_F = 95;

/** Adds the bearings of a train that a plain rule would have stopped it for, by whether anything was wrong with them. */
export function countTrips({ train, passes }: TrainScores, counts: TripCounts): void {
  const developing = new Set(train.bearings.filter(({ kind }) => kind === "developing").map(({ axle, side }) => axle * 2 + side));
  const keys = passes[0]?.riseF.length ?? 0;
  for (let key = 0; key < keys; key++) {
    const tripped = passes.some(({ riseF }) => riseF[key]! >= LIMIT_F || riseF[key]! - riseF[key ^ 1]! >= AXLE_DIFFERENCE_F);
    if (!tripped) continue;
    if (developing.has(key)) counts.withDefect++;
    else counts.withoutDefect++;
  }
}
