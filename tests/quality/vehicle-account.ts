import { vehiclesOfPass } from "../../src/simulate/truth.ts";
import type { VehicleCounts } from "./outcome.ts";
import type { PassCase, TrainCase } from "./train-case.ts";

const BINS = 10;

/** Cars found from spacings alone (passes without tags), held against the true ones. */
export class VehicleAccount {
  readonly plain: VehicleCounts = {
    cars: 0,
    right: 0,
    confidence: Array.from({ length: BINS }, () => ({ count: 0, stated: 0, observed: 0 })),
  };

  train(train: TrainCase): void {
    if (train.truth === null) return;
    for (const one of train.passes) if (one.pass !== null && one.pass.tags.size === 0) this.pass(train, one);
  }

  private pass(train: TrainCase, one: PassCase): void {
    const { truth } = train;
    const found = new Map<string, { confidence: number; kind: string }>();
    for (const vehicle of one.pass!.vehicles) {
      const [first, last] = trimmed(one, vehicle.firstRow, vehicle.firstRow + vehicle.axles - 1);
      found.set(`${first}-${last}`, { confidence: vehicle.confidence, kind: vehicle.kind });
    }
    const right = new Set<string>();
    for (const { vehicle, firstRow, rows } of vehiclesOfPass(truth!, one.truth)) {
      const { kind } = truth!.vehicles[vehicle]!;
      const key = `${firstRow}-${firstRow + rows - 1}`;
      const isRight = found.get(key)?.kind === kind;
      if (isRight) right.add(key);
      if (kind !== "car") continue;
      this.plain.cars++;
      if (isRight) this.plain.right++;
    }
    for (const [key, { confidence }] of found) {
      const bin = this.plain.confidence[Math.min(BINS - 1, Math.floor(confidence * BINS))]!;
      bin.count++;
      bin.stated += confidence;
      bin.observed += right.has(key) ? 1 : 0;
    }
  }
}

/** Bounds without rows counted twice at either end: those belong to no vehicle. */
function trimmed(one: PassCase, first: number, last: number): [number, number] {
  let from = first;
  let to = last;
  while (from < to && one.axleOfRow[from] === -1) from++;
  while (to > from && one.axleOfRow[to] === -1) to--;
  return [from, to];
}
