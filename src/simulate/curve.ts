import {
  BURST_F_PER_MINUTE,
  COOLING_MAX_F_PER_MINUTE,
  CURVE_F_PER_MINUTE,
  DIP_SHARE,
  PLATEAU_HIGH_F,
  PLATEAU_LOW_F,
  ROLL_PEAK_HIGH_F,
  ROLL_PEAK_LOW_F,
  STALL_SHARE,
} from "./assumptions.ts";
import type { Random } from "./random.ts";
import type { BearingKind, DefectClass } from "./truth.ts";

export const FORMS = ["power", "bent", "logistic", "drift", "saturating"] as const;
export type Form = (typeof FORMS)[number];

/** Rise over a healthy bearing, by miles since the onset, on knots; after the last knot it stays. */
export interface Curve {
  form: string;
  class: DefectClass;
  kind: BearingKind;
  /** Miles from the onset until the rise over healthy is `overF`; Infinity when never. */
  milesToLimit: number;
  excessF: Float32Array;
}

const KNOT_MILES = 0.25;
/** Curves of developing bearings go on to this many times the miles to the limit. */
const GOES_ON = 2.2;
const MOST_MILES = 800;

/** Miles from onset to the limit, by class. */
export const CLASS_MILES: Record<Exclude<DefectClass, "none">, [number, number]> = {
  slow: [100, 300],
  medium: [40, 100],
  fast: [15, 40],
  burst: [3, 12],
};

export function classOf(milesToLimit: number): DefectClass {
  if (milesToLimit >= 100) return "slow";
  if (milesToLimit >= 40) return "medium";
  return milesToLimit >= 15 ? "fast" : "burst";
}

/** Value of a curve, in °F over healthy. */
export function curveAt(curve: Curve, miles: number): number {
  if (miles <= 0) return 0;
  const at = miles / KNOT_MILES;
  const knot = Math.floor(at);
  const last = curve.excessF.length - 1;
  if (knot >= last) return curve.excessF[last] as number;
  const low = curve.excessF[knot] as number;
  return low + (at - knot) * ((curve.excessF[knot + 1] as number) - low);
}

/** A shape runs from 0 at 0 to 1 at 1 and on beyond. */
type Shape = (u: number) => number;

function shapeOf(form: Form, random: Random): Shape {
  switch (form) {
    case "power": {
      const power = random.between(1.2, 3);
      return (u) => u ** power;
    }
    case "bent": {
      const bend = random.between(0.35, 0.85);
      const there = random.between(0.2, 0.7) * bend;
      return (u) => (u < bend ? (u / bend) * there : there + ((u - bend) / (1 - bend)) * (1 - there));
    }
    case "logistic": {
      const centre = random.between(0.5, 0.85);
      const width = random.between(0.08, 0.2);
      const raw = (u: number): number => 1 / (1 + Math.exp(-(u - centre) / width));
      return (u) => (raw(u) - raw(0)) / (raw(1) - raw(0));
    }
    case "drift": {
      const steps = 12;
      const knots = [0];
      for (let i = 1; i <= steps * 3; i++) knots.push((knots[i - 1] as number) + Math.max(-0.6, 1 + 1.4 * random.normal()));
      const end = Math.max(3, knots[steps] as number);
      return (u) => {
        const at = Math.min(u * steps, steps * 3 - 1e-9);
        const knot = Math.floor(at);
        const low = knots[knot] as number;
        return (low + (at - knot) * ((knots[knot + 1] as number) - low)) / end;
      };
    }
    case "saturating": {
      const top = random.between(1.15, 1.8);
      const rate = -Math.log(1 - 1 / top);
      return (u) => top * (1 - Math.exp(-rate * u));
    }
  }
}

/** Gives a shape a dip (it falls back and goes on) or a stall (it stands and goes on). */
function disturb(shape: Shape, random: Random): { shape: Shape; words: string } {
  const at = random.between(0.3, 0.75);
  const width = random.between(0.12, 0.3);
  if (random.chance(DIP_SHARE)) {
    const depth = random.between(0.25, 0.5);
    const dip = (u: number): number => (u > at && u < at + width ? 1 - depth * Math.sin((Math.PI * (u - at)) / width) ** 2 : 1);
    return { shape: (u) => shape(u) * dip(u), words: " with a dip" };
  }
  if (random.chance(STALL_SHARE)) {
    return { shape: (u) => shape(u < at ? u : Math.max(at, u - width)), words: " with a stall" };
  }
  return { shape, words: "" };
}

/** Knots that follow a target but never steeper than the rates allow (°F per mile, both positive). */
function limited(target: (miles: number) => number, miles: number, riseFPerMile: number, fallFPerMile: number): Float32Array {
  const knots = Math.ceil(Math.min(miles, MOST_MILES) / KNOT_MILES) + 1;
  const excessF = new Float32Array(knots);
  for (let knot = 1; knot < knots; knot++) {
    const before = excessF[knot - 1] as number;
    const wanted = Math.max(0, target(knot * KNOT_MILES)) - before;
    excessF[knot] = before + Math.min(riseFPerMile * KNOT_MILES, Math.max(-fallFPerMile * KNOT_MILES, wanted));
  }
  return excessF;
}

function milesTo(excessF: Float32Array, overF: number): number {
  const knot = excessF.findIndex((value) => value >= overF);
  return knot < 0 ? Number.POSITIVE_INFINITY : knot * KNOT_MILES;
}

/**
 * A developing bearing: from 0 at its onset to `overF` (limit less healthy rise) after about `miles`, and beyond.
 * The class is that of the curve as it came out, after the steepest parts were flattened.
 */
export function developing(wanted: { class: DefectClass; miles: number; overF: number; mph: number; form?: Form }, random: Random): Curve {
  const burst = wanted.class === "burst";
  const form: Form = wanted.form ?? (burst ? "power" : random.pick(FORMS));
  const plain = shapeOf(form, random);
  const { shape, words } = burst ? { shape: plain, words: "" } : disturb(plain, random);
  const milesPerMinute = wanted.mph / 60;
  const rise = (burst ? BURST_F_PER_MINUTE : CURVE_F_PER_MINUTE) / milesPerMinute;
  const target = (miles: number): number => wanted.overF * shape(miles / wanted.miles);
  const excessF = limited(target, wanted.miles * GOES_ON, rise, COOLING_MAX_F_PER_MINUTE / milesPerMinute);
  const milesToLimit = milesTo(excessF, wanted.overF);
  const kind = milesToLimit === Number.POSITIVE_INFINITY ? "plateau" : "developing";
  return { form: form + words, class: burst ? "burst" : kind === "plateau" ? "none" : classOf(milesToLimit), kind, milesToLimit, excessF };
}

/** A rise that stops under the limit and stays. */
export function plateau(mph: number, random: Random, peakF = random.between(PLATEAU_LOW_F, PLATEAU_HIGH_F)): Curve {
  const miles = random.logBetween(10, 110);
  const bend = random.between(0.7, 1.6);
  const target = (at: number): number => peakF * Math.min(1, (at / miles) ** bend);
  const steepest = (CURVE_F_PER_MINUTE * 60) / mph;
  return {
    form: "plateau",
    class: "none",
    kind: "plateau",
    milesToLimit: Number.POSITIVE_INFINITY,
    excessF: limited(target, miles * 1.1 + 10, steepest, steepest),
  };
}

/** A trend that ends by itself: up, perhaps a while on top, and back to near where it was. */
export function rollOver(mph: number, random: Random, peakF = random.between(ROLL_PEAK_LOW_F, ROLL_PEAK_HIGH_F)): Curve {
  const up = random.logBetween(10, 90);
  const top = random.chance(0.5) ? random.between(0, 30) : 0;
  const down = random.logBetween(8, 60);
  const stays = random.between(0, 0.2) * peakF;
  const smooth = random.chance(0.5);
  const ease = (u: number): number => (smooth ? Math.sin((Math.PI / 2) * u) ** 2 : u);
  const target = (at: number): number => {
    if (at < up) return peakF * ease(at / up);
    if (at < up + top) return peakF;
    return stays + (peakF - stays) * ease(Math.max(0, 1 - (at - up - top) / down));
  };
  const milesPerMinute = mph / 60;
  const excessF = limited(target, up + top + down + 20, CURVE_F_PER_MINUTE / milesPerMinute, COOLING_MAX_F_PER_MINUTE / milesPerMinute);
  return {
    form: smooth ? "roll-over, smooth" : "roll-over, straight",
    class: "none",
    kind: "roll-over",
    milesToLimit: Number.POSITIVE_INFINITY,
    excessF,
  };
}
