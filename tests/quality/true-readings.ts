import type { PassCase, TrainCase } from "./train-case.ts";
import { bearingKey, trueSide } from "./train-case.ts";

/** One pass as published rules see it: the whole of both sides, under true names. */
export interface TruePass {
  index: number;
  miles: number;
  /** Miles to the next site on the train's way; where the way is not known, the usual gap. */
  nextMiles: number;
  /** Rise by bearing key; NaN when not measured. */
  riseF: Float32Array;
  /** By true side: mean and standard deviation of the side's readings. */
  meanF: [number, number];
  sdF: [number, number];
}

/** Gap assumed where a train's way ends. */
const USUAL_GAP_MILES = 15;

/** The passes of a train that were received, their readings under the true bearings. `keys`: two for each axle the train ever had. */
export function truePasses(train: TrainCase): { passes: TruePass[]; keys: number } {
  let axles = 0;
  for (const one of train.passes) for (const axle of one.axleOfRow) if (axle >= axles) axles = axle + 1;
  const passes: TruePass[] = [];
  train.passes.forEach((one, index) => {
    if (one.pass === null) return;
    const next = train.passes[index + 1];
    const nextMiles = next === undefined ? USUAL_GAP_MILES : next.truth.miles - one.truth.miles;
    passes.push(truePass(one, index, nextMiles, axles * 2));
  });
  return { passes, keys: axles * 2 };
}

function truePass(one: PassCase, index: number, nextMiles: number, keys: number): TruePass {
  const riseF = new Float32Array(keys).fill(Number.NaN);
  const found: TruePass = { index, miles: one.truth.miles, nextMiles, riseF, meanF: [0, 0], sdF: [0, 0] };
  const columns = one.pass!.bearingRiseF;
  for (const rail of [0, 1] as const) {
    const side = trueSide(one.truth, rail);
    const column = columns[rail];
    let count = 0;
    let sum = 0;
    let square = 0;
    for (let row = 0; row < one.axleOfRow.length; row++) {
      const axle = one.axleOfRow[row]!;
      const rise = column[row] ?? Number.NaN;
      if (axle < 0 || Number.isNaN(rise)) continue;
      riseF[bearingKey(axle, side)] = rise;
      count++;
      sum += rise;
      square += rise * rise;
    }
    const mean = sum / count;
    found.meanF[side] = mean;
    found.sdF[side] = Math.sqrt(Math.max(0, square / count - mean * mean));
  }
  return found;
}
