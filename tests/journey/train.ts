import type { Levels } from "../../src/bearing/levels.ts";
import type { Direction } from "../../src/line/railroad.ts";
import type { Pass, PassFlag } from "../../src/pass/pass.ts";

/*
 * Trains for the tests of this room. Every number is an assumption of the tests; spacings lie in the ranges of common
 * practice (truck wheelbase 5 ft 6 in to 6 ft 8 in, coupled ends 7 to 11 ft apart).
 */

/** A small seeded generator (mulberry32): tests are the same every time. */
export class Dice {
  private state: number;
  constructor(seed: number) {
    this.state = seed >>> 0;
  }
  next(): number {
    this.state = (this.state + 0x6d2b79f5) >>> 0;
    let t = this.state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  }
  between(low: number, high: number): number {
    return low + (high - low) * this.next();
  }
  whole(low: number, high: number): number {
    return Math.floor(this.between(low, high + 1));
  }
  normal(sd: number): number {
    return sd * Math.sqrt(-2 * Math.log(1 - this.next())) * Math.cos(2 * Math.PI * this.next());
  }
  chance(share: number): boolean {
    return this.next() < share;
  }
}

/** A vehicle: inner spacings and the overhang from its outer axles to the faces of its couplers, inches. */
export interface Vehicle {
  inner: number[];
  front: number;
  rear: number;
  /** Of each axle, across the train whatever happens. */
  axles: number[];
  /** Persistent warmth of each axle's two bearings over their side, °F: [end A, end B]. */
  warmth: [number, number][];
}

let nextAxle = 1;

function vehicle(dice: Dice, inner: number[], overhang: number, toleranceInches: number): Vehicle {
  const made = inner.map((gap) => gap + dice.normal(gap > 90 ? toleranceInches : 0.1));
  const axles = Array.from({ length: inner.length + 1 }, () => nextAxle++);
  return {
    inner: made,
    front: overhang + dice.normal(toleranceInches),
    rear: overhang + dice.normal(toleranceInches),
    axles,
    warmth: axles.map(() => [dice.normal(6), dice.normal(6)]),
  };
}

export interface CarType {
  wheelbase: number;
  between: number;
  overhang: number;
}

const carTypes: CarType[] = [
  { wheelbase: 70, between: 380, overhang: 47 },
  { wheelbase: 70, between: 415, overhang: 50 },
  { wheelbase: 70, between: 470, overhang: 55 },
  { wheelbase: 66, between: 330, overhang: 44 },
  { wheelbase: 72, between: 560, overhang: 60 },
  { wheelbase: 70, between: 505, overhang: 52 },
  { wheelbase: 70, between: 700, overhang: 66 },
  { wheelbase: 68, between: 440, overhang: 49 },
];

export const coalCar: CarType = { wheelbase: 70, between: 402, overhang: 48 };

export function locomotive(dice: Dice): Vehicle {
  const truck = dice.chance(0.6) ? 81 : 79;
  return vehicle(dice, [truck, truck, dice.chance(0.5) ? 384 : 360, truck, truck], 62, 0.5);
}

export function car(dice: Dice, type: CarType, toleranceInches: number): Vehicle {
  return vehicle(dice, [type.wheelbase, type.between, type.wheelbase], type.overhang, toleranceInches);
}

/** Mixed freight: cars of many lengths, in small blocks. */
export function mixedTrain(dice: Dice, cars: number, toleranceInches = 0.5): Vehicle[] {
  const train = Array.from({ length: dice.whole(1, 4) }, () => locomotive(dice));
  while (train.length < cars) {
    const type = carTypes[dice.whole(0, carTypes.length - 1)]!;
    for (let block = dice.whole(1, 5); block > 0 && train.length < cars; block--) train.push(car(dice, type, toleranceInches));
  }
  return train;
}

/** A unit train: cars of one type that differ only by their making. */
export function unitTrain(dice: Dice, cars: number, type: CarType, toleranceInches = 0.5): Vehicle[] {
  const like = new Dice(7);
  const train: Vehicle[] = [];
  // The same locomotives for every unit train: nothing of them sets it apart.
  for (let k = 0; k < 3; k++) train.push({ ...locomotive(like), axles: Array.from({ length: 6 }, () => nextAxle++) });
  while (train.length < cars) train.push(car(dice, type, toleranceInches));
  return train;
}

/** The train the other way round: order reversed, every vehicle turned with it. */
export function reversed(train: Vehicle[]): Vehicle[] {
  return train
    .slice()
    .reverse()
    .map((one) => ({
      inner: one.inner.slice().reverse(),
      front: one.rear,
      rear: one.front,
      axles: one.axles.slice().reverse(),
      warmth: one.warmth.slice().reverse(),
    }));
}

export interface Seeing {
  site: string;
  track?: string;
  direction: Direction;
  /** Hours of the day the head comes. */
  hour: number;
  scale?: number;
  noiseInches?: number;
  missed?: number[];
  doubled?: number[];
  train?: string | null;
  number?: string;
  flags?: PassFlag[];
  tags?: Map<number, string>;
}

export interface Seen {
  pass: Pass;
  /** True axle of each row, -1 for one counted twice. */
  truth: number[];
}

const HOUR_MS = 3_600_000;
export const DAY_MS = Date.UTC(2026, 2, 4);
const TRAIN_MPH = 40;
let nextPass = 1;

/** One train over one site, as the site reports it. */
export function see(dice: Dice, train: readonly Vehicle[], seeing: Seeing): Seen {
  const scale = seeing.scale ?? 1;
  const noise = seeing.noiseInches ?? 1;
  const places: number[] = [];
  const truth: number[] = [];
  let at = 0;
  let counted = 0;
  train.forEach((one, v) => {
    if (v > 0) at += one.front + train[v - 1]!.rear;
    one.axles.forEach((axle, k) => {
      if (k > 0) at += one.inner[k - 1]!;
      const ordinal = counted++;
      if (seeing.missed?.includes(ordinal)) return;
      places.push(at);
      truth.push(axle);
      if (seeing.doubled?.includes(ordinal)) {
        places.push(at + dice.between(3, 14));
        truth.push(-1);
      }
    });
  });
  const axles = places.length;
  const gapInches = new Float32Array(axles);
  gapInches[0] = Number.NaN;
  for (let i = 1; i < axles; i++)
    gapInches[i] = Math.max(1, Math.round((scale * (places[i]! - places[i - 1]!) + dice.normal(noise)) * 100) / 100);
  const begunMs = DAY_MS + Math.round(seeing.hour * HOUR_MS);
  const endedMs = begunMs + Math.round(((at / 63_360 / TRAIN_MPH) * HOUR_MS) / 1);
  const number = seeing.number ?? String(nextPass++);
  const track = seeing.track ?? "1";
  const column = () => new Float32Array(axles).fill(30);
  const pass: Pass = {
    id: `${seeing.site}/${track}/${number}@${new Date(begunMs).toISOString().replace(/[-:.]/g, "")}`,
    site: seeing.site,
    track,
    pass: number,
    direction: seeing.direction,
    begunMs,
    endedMs,
    ambientF: 50,
    train: seeing.train ?? null,
    axles,
    axlesSaid: axles,
    ms: new Float64Array(axles),
    gapInches,
    speedMph: new Float32Array(axles).fill(TRAIN_MPH),
    bearingRiseF: [column(), column()],
    wheelRiseF: null,
    tags: seeing.tags ?? new Map(),
    flags: seeing.flags ?? [],
    vehicles: [],
    vehicleOfAxle: new Int16Array(axles).fill(-1),
  };
  return { pass, truth };
}

/** Levels that say nothing. */
export function coldLevels(pass: Pass): Levels {
  const column = () => new Float32Array(pass.axles);
  return {
    excessF: [column(), column()],
    medianF: [30, 30],
    spreadF: [6, 6],
    biasF: [0, 0],
    biasSdF: [5, 5],
    doubts: [[], []],
  };
}
