import type { BearingReading, BearingTrack } from "../../src/bearing/track.ts";

/**
 * Invented bearings for fitting and testing the model: curves of other forms than the model's own (exponential, logistic, kinked,
 * saturating, with plateaus and dips). Every figure here is an assumption of this file.
 */
export type Kind = "ordinary" | "warm" | "rolled" | "slow" | "medium" | "fast";

export interface Life {
  kind: Kind;
  track: BearingTrack;
  /** True excess at each reading. */
  trueF: number[];
  /** Miles at which the true rise reaches the limit, null when it does not. */
  crossingMiles: number | null;
  /** Limit above the side of the train. */
  limitExcessF: number;
}

export const LIMIT_F = 170;

/** Deterministic random numbers, 0..1 (mulberry32, a public-domain generator). */
export function randomOf(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

export function normalOf(random: () => number): number {
  return Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
}

/** World of a life: how far apart sites are and how sick scanners. */
export interface World {
  gapLow: number;
  gapHigh: number;
  underRead: number;
  warming: boolean;
}

export const ORDINARY_WORLD: World = { gapLow: 8, gapHigh: 24, underRead: 0.015, warming: false };

export function lifeOf(kind: Kind, seed: number, world: World = ORDINARY_WORLD): Life {
  const random = randomOf(seed * 7919 + kindNumber(kind));
  const sites = 6 + Math.floor(random() * 12);
  const miles: number[] = [0];
  while (miles.length < sites) miles.push(miles[miles.length - 1]! + world.gapLow + (world.gapHigh - world.gapLow) * random());
  const total = miles[miles.length - 1]!;
  const curve = curveOf(kind, total, random);
  const median = 22 + 16 * random();
  const spread = 5.5 + 3 * random();
  const base = normalOf(random) * 0.8 * spread;
  const limitExcessF = LIMIT_F - median;
  const life: Life = { kind, track: [], trueF: [], crossingMiles: null, limitExcessF };
  const speed = 35 + 20 * random();
  let wobble = 0;
  for (let i = 0; i < sites; i++) {
    const warm = world.warming ? 0.35 + 0.65 * (1 - Math.exp(-miles[i]! / 25)) : 1;
    wobble = 0.6 * wobble + 0.8 * normalOf(random);
    const over = curve(miles[i]!) * (kind === "warm" ? warm : 1);
    const excess = base * warm + over;
    life.trueF.push(excess);
    let measured = excess * (1 + 0.05 * normalOf(random)) + 0.5 * spread * normalOf(random) + 0.03 * Math.abs(over) * wobble;
    if (random() < world.underRead) measured = Math.max(-median * warm, measured - (10 + 75 * random()));
    life.track.push(readingOf(miles[i]!, speed, measured, median * warm, spread * warm, random));
  }
  const end = total + 60;
  for (let at = 0; at <= end && kindRises(kind); at += 0.25) {
    if (base + curve(at) >= limitExcessF) {
      life.crossingMiles = at;
      break;
    }
  }
  return life;
}

export function kindRises(kind: Kind): boolean {
  return kind === "slow" || kind === "medium" || kind === "fast";
}

function kindNumber(kind: Kind): number {
  return ["ordinary", "warm", "rolled", "slow", "medium", "fast"].indexOf(kind);
}

export function readingOf(
  miles: number,
  speedMph: number,
  excessF: number,
  medianF: number,
  spreadF: number,
  random: () => number = () => 0.5,
): BearingReading {
  return {
    miles,
    timeMs: (miles / speedMph) * 3_600_000,
    riseF: excessF + medianF,
    excessF,
    spreadF,
    biasSdF: 2,
    mateExcessF: spreadF * (random() - 0.5) * 2,
    vehicleExcessF: spreadF * (random() - 0.5),
    wheelRiseF: Number.NaN,
    doubted: false,
    sideMedianF: medianF,
    lowShare: 0.01,
  };
}

type Curve = (miles: number) => number;

function curveOf(kind: Kind, total: number, random: () => number): Curve {
  if (kind === "ordinary") return () => 0;
  if (kind === "warm") {
    const level = 12 - 14 * Math.log(1 - random()) - 6 * Math.log(1 - random());
    const phase = random() * 6;
    return (x) => level * (1 + 0.05 * Math.sin(phase + x / 35));
  }
  if (kind === "rolled") return rolled(total, random);
  const range = { slow: [100, 300], medium: [40, 100], fast: [15, 40] }[kind] as [number, number];
  const reach = range[0] * (range[1] / range[0]) ** random();
  const onset = -0.4 * reach + random() * (total + 0.2 * reach);
  return failing(onset, reach, random);
}

/** A trend that ends by itself: up, a while, and down again. */
function rolled(total: number, random: () => number): Curve {
  const peak = 20 + 45 * random() ** 1.5 + 25 * random() ** 2;
  const onset = -20 + random() * total;
  const up = 6 + 45 * random();
  const stay = 25 * random();
  const down = 8 + 60 * random();
  return (x) => {
    const t = x - onset;
    if (t <= 0) return 0;
    if (t < up) return peak * Math.sin((Math.PI / 2) * (t / up)) ** 1.3;
    if (t < up + stay) return peak;
    return peak * Math.exp(-(t - up - stay) / (down / 2));
  };
}

/** Reaches about 145 °F over the train `reach` miles after `onset`, in one of five ways. */
function failing(onset: number, reach: number, random: () => number): Curve {
  const form = Math.floor(random() * 5);
  const bend = 1 + 2.5 * random();
  const pause = 0.3 + 0.4 * random();
  const length = (0.1 + 0.25 * random()) * reach;
  const full = 138;
  return (x) => {
    const t = x - onset;
    if (t <= 0) return 0;
    const u = t / reach;
    if (form === 0) return (full * Math.expm1(bend * u)) / Math.expm1(bend);
    if (form === 1) return full * 1.25 * (1 / (1 + Math.exp(-6 * (u - 0.75))) - 1 / (1 + Math.exp(4.5))) * 1.18;
    if (form === 2) return u < pause ? full * 0.25 * (u / pause) : full * (0.25 + (0.75 * (u - pause)) / (1 - pause));
    if (form === 3) return full * 1.6 * (1 - Math.exp(-u));
    const before = pause * reach;
    const moved = t < before ? t : t < before + length ? before : t - length;
    return full * (moved / (reach - length)) ** 1.2;
  };
}
