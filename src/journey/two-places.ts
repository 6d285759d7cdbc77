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
  const one = wayOver(fit, run, 0).nats;
  let best: (TwoPlaces & { nats: number }) | null = null;
  for (let length = LEAST_VEHICLE_AXLES; length <= run.length - LEAST_VEHICLE_AXLES; length += STEP) {
    const way = wayOver(fit, run, length);
    if (best === null || way.nats < best.nats) best = { ...way, length };
  }
  return best !== null && best.nats + SECOND_RUN_NATS < one && best.second > best.first ? best : null;
}

interface Way {
  nats: number;
  first: number;
  second: number;
}

/** The best way from the diagonal before the run to the one behind it, over that of a first part of `length`; 0: straight. */
function wayOver(fit: Fit, run: Run, length: number): Way {
  const before = run.offset;
  const between = run.offset + length;
  const behind = run.offset + run.length;
  const stay = (e: number, diagonal: number): number =>
    (e > run.from ? spacingNats(fit, run, e, diagonal) : 0) + warmthNats(fit, run, e, diagonal);
  let onBefore = 0;
  const onBetween: Way = { nats: length === 0 ? 0 : Number.POSITIVE_INFINITY, first: run.from, second: run.from };
  const onBehind: Way = { nats: Number.POSITIVE_INFINITY, first: run.from, second: run.from };
  for (let e = run.from; e <= run.to; e++) {
    // From behind, so that each still finds the one before it as it was.
    const over = onBetween.nats + partNats(fit, run, e, between, behind) + warmthNats(fit, run, e, behind);
    const stayed = onBehind.nats + stay(e, behind);
    onBehind.nats = Math.min(over, stayed);
    if (over < stayed) {
      onBehind.first = onBetween.first;
      onBehind.second = e;
    }
    const entered =
      length === 0 ? Number.POSITIVE_INFINITY : onBefore + partNats(fit, run, e, before, between) + warmthNats(fit, run, e, between);
    onBetween.nats = Math.min(entered, onBetween.nats + stay(e, between));
    if (onBetween.nats === entered) onBetween.first = e;
    onBefore += stay(e, before);
  }
  return onBehind;
}
