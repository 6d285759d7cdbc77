import {
  COOLING_MAX_F_PER_MINUTE,
  FAILURE_HIGH_F,
  FAILURE_LOW_F,
  HEATING_MAX_F_PER_MINUTE,
  LIMIT_RISE_F,
  REHEAT_F_PER_MINUTE,
} from "./assumptions.ts";
import { type Curve, curveAt } from "./curve.ts";
import type { Train } from "./train.ts";
import type { BearingTruth, TruePlace } from "./truth.ts";

const STEP_MILES = 0.5;
const MINUTE_MS = 60_000;

/** A stretch of a train's way, at one speed or standing (equal miles). */
export interface Stretch {
  fromMs: number;
  toMs: number;
  fromMile: number;
  toMile: number;
  mph: number;
  link: { from: string; to: string; startMile: number };
}

/** One bearing that is not ordinary, as it goes on: a defect that follows its curve, or a warm runner (no curve). */
export class BearingLife {
  readonly axle: number;
  readonly side: 0 | 1;
  readonly curve: Curve | null;
  readonly onsetMile: number;
  readonly failsAtF: number;
  readonly truth: BearingTruth;
  /** Rise over healthy now. */
  excessF: number;
  /** With a vehicle that left the train. */
  gone = false;

  constructor(train: Train, axle: number, side: 0 | 1, curve: Curve | null, onsetMile: number) {
    this.axle = axle;
    this.side = side;
    this.curve = curve;
    this.onsetMile = onsetMile;
    this.failsAtF = LIMIT_RISE_F + train.random.between(FAILURE_LOW_F, FAILURE_HIGH_F);
    this.excessF = curve === null ? 0 : train.warmth * curveAt(curve, -onsetMile);
    this.truth = {
      type: "bearing",
      train: train.name,
      axle,
      side,
      kind: curve?.kind ?? "warm",
      class: curve?.class ?? "none",
      form: curve?.form ?? "warm",
      onsetMile: curve === null ? null : round(onsetMile, 10),
      crossing: null,
      failure: null,
      setOutMile: null,
      atPasses: [],
    };
  }

  /** Goes on over a stretch; healthy rise runs from `healthyF[0]` to `healthyF[1]`. Gives where it failed, if it did. */
  live(stretch: Stretch, healthyF: [number, number]): TruePlace | null {
    if (this.gone) return null;
    if (this.curve === null) return this.keepWarm(stretch, healthyF);
    const { fromMile, toMile, fromMs, toMs } = stretch;
    const minutes = (toMs - fromMs) / MINUTE_MS;
    const steps = Math.max(1, Math.ceil(Math.max((toMile - fromMile) / STEP_MILES, minutes)));
    const stepMinutes = minutes / steps;
    const burst = this.curve.class === "burst";
    let total = this.excessF + healthyF[0];
    let target = curveAt(this.curve, fromMile - this.onsetMile);
    for (let step = 1; step <= steps; step++) {
      const share = step / steps;
      const mile = fromMile + (toMile - fromMile) * share;
      const healthy = healthyF[0] + (healthyF[1] - healthyF[0]) * share;
      if (toMile === fromMile) {
        // Standing: it cools towards nothing, never faster than was ever seen.
        this.excessF -= Math.min(COOLING_MAX_F_PER_MINUTE * stepMinutes, this.excessF * (1 - Math.exp(-stepMinutes / 30)));
      } else {
        const next = curveAt(this.curve, mile - this.onsetMile);
        const grown = Math.min(next - this.excessF, Math.max(0, next - target) + REHEAT_F_PER_MINUTE * stepMinutes);
        const most = HEATING_MAX_F_PER_MINUTE * stepMinutes - Math.max(0, (healthyF[1] - healthyF[0]) / steps);
        this.excessF += burst ? grown : Math.min(grown, most);
        target = next;
      }
      const now = this.excessF + healthy;
      const place = (f: number): TruePlace => placeAt(stretch, (step - 1 + (f - total) / (now - total)) / steps);
      if (this.truth.crossing === null && now >= LIMIT_RISE_F) {
        this.truth.crossing = total >= LIMIT_RISE_F ? placeAt(stretch, (step - 1) / steps) : place(LIMIT_RISE_F);
      }
      if (now >= this.failsAtF && toMile > fromMile) {
        return total >= this.failsAtF ? placeAt(stretch, (step - 1) / steps) : place(this.failsAtF);
      }
      total = now;
    }
    return null;
  }

  /** A warm runner never fails, but a train's own warmth can take it over the limit. */
  private keepWarm(stretch: Stretch, [beforeF, afterF]: [number, number]): null {
    if (this.truth.crossing !== null || Math.max(beforeF, afterF) < LIMIT_RISE_F) return null;
    this.truth.crossing = placeAt(stretch, beforeF >= LIMIT_RISE_F ? 0 : (LIMIT_RISE_F - beforeF) / (afterF - beforeF));
    return null;
  }
}

function placeAt(stretch: Stretch, share: number): TruePlace {
  const mile = stretch.fromMile + (stretch.toMile - stretch.fromMile) * share;
  return {
    mile: round(mile, 100),
    time: new Date(Math.round(stretch.fromMs + (stretch.toMs - stretch.fromMs) * share)).toISOString(),
    from: stretch.link.from,
    to: stretch.link.to,
    linkMiles: round(mile - stretch.link.startMile, 100),
  };
}

function round(value: number, grid: number): number {
  return Math.round(value * grid) / grid;
}

/**
 * Takes a train over a stretch: it warms or cools, and its extraordinary bearings live on. Gives the earliest failure:
 * the train gets no further.
 */
export function ride(train: Train, stretch: Stretch): { life: BearingLife; place: TruePlace } | null {
  const running = stretch.toMile > stretch.fromMile;
  const before = train.lives.map((life) => (life.gone ? 0 : train.healthyRiseF(life.axle, life.side, stretch.mph, stretch.fromMs)));
  train.passTime(stretch.toMs, running);
  let first: { life: BearingLife; place: TruePlace } | null = null;
  train.lives.forEach((life, index) => {
    if (life.gone) return;
    const after = train.healthyRiseF(life.axle, life.side, stretch.mph, stretch.toMs);
    const place = life.live(stretch, [before[index] as number, after]);
    if (place !== null && (first === null || place.mile < first.place.mile)) first = { life, place };
  });
  train.miles = stretch.toMile;
  const failed = first as { life: BearingLife; place: TruePlace } | null;
  if (failed !== null) failed.life.truth.failure = failed.place;
  return failed;
}
