import { LEAST_VEHICLE_AXLES } from "./alignment.ts";
import { type Fit, partNats, type Run, spacingNats, warmthNats } from "./run-fit.ts";

/** What it must be worth to take one run for two, nats: a further run, and the many ways to cut one (assumption). */
const SECOND_RUN_NATS = 15;
/** Vehicles have even numbers of axles. */
const STEP = 2;

/** A run cut in two: elements [first, second) of the shorter stand between the two, `length` is that of the first. */
export interface TwoPlaces {
  first: number;
  second: number;
  length: number;
}

/**
 * Cars set out (or picked up) in two places on one leg look like one run where they are all alike, and those between the two
 * places then bear others' names. What their bearings usually are tells. Null: one place explains it as well.
 */
export function cutInTwo(fit: Fit, run: Run): TwoPlaces | null {
  if (fit.warmth === null || run.length < 2 * LEAST_VEHICLE_AXLES || run.to - run.from < 2) return null;
  const before = staying(fit, run, run.offset);
  const behind = staying(fit, run, run.offset + run.length);
  const one = wayOver(fit, run, 0, before, before, behind).nats;
  let best: (TwoPlaces & { nats: number }) | null = null;
  for (let length = LEAST_VEHICLE_AXLES; length <= run.length - LEAST_VEHICLE_AXLES; length += STEP) {
    const way = wayOver(fit, run, length, before, staying(fit, run, run.offset + length), behind);
    if (best === null || way.nats < best.nats) best = { ...way, length };
  }
  return best !== null && best.nats + SECOND_RUN_NATS < one && best.second > best.first ? best : null;
}

/** What it costs each element of a run to stand on a diagonal, nats: its spacing, where the one before stands there too, and its warmth. */
interface Staying {
  spacing: Float64Array;
  warmth: Float64Array;
}

function staying(fit: Fit, run: Run, diagonal: number): Staying {
  const count = run.to - run.from + 1;
  const spacing = new Float64Array(count);
  const warmth = new Float64Array(count);
  for (let k = 0; k < count; k++) {
    if (k > 0) spacing[k] = spacingNats(fit, run, run.from + k, diagonal);
    warmth[k] = warmthNats(fit, run, run.from + k, diagonal);
  }
  return { spacing, warmth };
}

interface Way {
  nats: number;
  first: number;
  second: number;
}

/** The best way from the diagonal before the run to the one behind it, over that of a first part of `length`; 0: straight. */
function wayOver(fit: Fit, run: Run, length: number, before: Staying, between: Staying, behind: Staying): Way {
  const first = run.offset;
  const second = run.offset + length;
  const third = run.offset + run.length;
  let onBefore = 0;
  const onBetween: Way = { nats: length === 0 ? 0 : Number.POSITIVE_INFINITY, first: run.from, second: run.from };
  const onBehind: Way = { nats: Number.POSITIVE_INFINITY, first: run.from, second: run.from };
  for (let k = 0, e = run.from; e <= run.to; k++, e++) {
    // From behind, so that each still finds the one before it as it was.
    const over = onBetween.nats + partNats(fit, run, e, second, third) + behind.warmth[k]!;
    const stayed = onBehind.nats + behind.spacing[k]! + behind.warmth[k]!;
    onBehind.nats = Math.min(over, stayed);
    if (over < stayed) {
      onBehind.first = onBetween.first;
      onBehind.second = e;
    }
    const entered = length === 0 ? Number.POSITIVE_INFINITY : onBefore + partNats(fit, run, e, first, second) + between.warmth[k]!;
    onBetween.nats = Math.min(entered, onBetween.nats + between.spacing[k]! + between.warmth[k]!);
    if (onBetween.nats === entered) onBetween.first = e;
    onBefore += before.spacing[k]! + before.warmth[k]!;
  }
  return onBehind;
}
