import type { Direction, Units } from "../line/railroad.ts";
import {
  ALARM_REPORTS,
  BRAKING_BEARING_F,
  BRAKING_WHEEL_F,
  COLD_SEES_SHARE,
  DOUBLED_GAP_HIGH_INCHES,
  DOUBLED_GAP_LOW_INCHES,
  GAP_NOISE_INCHES,
  ICE_SEES_HIGH_SHARE,
  ICE_SEES_LOW_SHARE,
  LIMIT_RISE_F,
  NULL_SHARE,
  SIDE_SD_F,
  SLACK_INCHES,
  TAG_READ_SHARE,
  UNDER_READ_HIGH_SHARE,
  UNDER_READ_LOW_SHARE,
  UNDER_READ_MOST_F,
  WHEEL_RISE_F,
  WHEEL_SD_F,
} from "./assumptions.ts";
import { NOT_MEASURED } from "./number-text.ts";
import type { Random } from "./random.ts";
import type { Vehicle } from "./stock.ts";
import type { Train } from "./train.ts";
import type { Wayside } from "./wayside.ts";
import type { World } from "./worlds.ts";

/** Inches a second at 1 mph. */
const INCHES_PER_SECOND_PER_MPH = 17.6;
/** The usual limit of wheel scanners, absolute °F ([P]). */
const HOT_WHEEL_F = 500;
const RISE_MILES = 5;

/** What a site measured of one train, in grid steps of its own units: columns by row. */
export interface Measured {
  rows: number;
  axleOfRow: Int32Array;
  missed: number[];
  ms: Int32Array;
  gap: Int32Array;
  speed: Int32Array;
  bearing: [Int32Array, Int32Array];
  wheel: [Int32Array, Int32Array] | null;
  tags: (string | null)[] | null;
  ambientF: number;
  biasF: [number, number];
  marks: string[];
  hot: { row: number; rail: 0 | 1; riseF: number; kind: "hot-bearing" | "hot-wheel" }[];
}

/** Grid of a spacing unit: units an inch and steps a unit. */
export function gapGrid(unit: Units["gap"]): { perInch: number; steps: number } {
  if (unit === "in") return { perInch: 1, steps: 10 };
  if (unit === "ft") return { perInch: 1 / 12, steps: 100 };
  return unit === "mm" ? { perInch: 25.4, steps: 1 } : { perInch: 2.54, steps: 10 };
}

/** What ails the pass as a whole; drawn once for each. */
export interface PassPlan {
  track: string;
  hasWheel: boolean;
  direction: Direction;
  mph: number;
  braking: boolean;
  haltMs: number;
}

/** Extra rise of bearings and wheels (defects, brakes), by 2 x axle + side; cleared after each use. */
let bearingExtra = new Float32Array(8192);
let wheelExtra = new Float32Array(4096);

function markExtras(train: Train, sign: 1 | 0): void {
  if (bearingExtra.length < train.axles * 2) {
    bearingExtra = new Float32Array(train.axles * 4);
    wheelExtra = new Float32Array(train.axles * 2);
  }
  for (const life of train.lives) if (!life.gone) bearingExtra[life.axle * 2 + life.side] = sign * life.excessF;
  for (const brakes of train.brakes) {
    const share = brakesShare(brakes, train.miles) * sign;
    for (const axle of brakes.axles) {
      wheelExtra[axle] = share * brakes.wheelRiseF;
      for (const side of [0, 1] as const) {
        const at = axle * 2 + side;
        bearingExtra[at] = sign === 0 ? 0 : (bearingExtra[at] as number) + share * brakes.bearingRiseF;
      }
    }
  }
}

/** Stuck brakes heat up and cool down over a few miles. */
export function brakesShare(brakes: { fromMile: number; toMile: number }, mile: number): number {
  const up = Math.min(1, Math.max(0, (mile - brakes.fromMile) / RISE_MILES));
  const down = Math.min(1, Math.max(0, 1 - (mile - brakes.toMile) / RISE_MILES));
  return Math.min(up, down);
}

/** Measures a train as it runs over a site. */
export function measure(train: Train, wayside: Wayside, plan: PassPlan, world: World, nowMs: number, random: Random): Measured {
  markExtras(train, 1);
  const bench = new Bench(train, wayside, plan, world, nowMs, random);
  const measured = bench.run();
  markExtras(train, 0);
  return measured;
}

/** The measuring of one pass, row by row. */
class Bench {
  private readonly out: Measured;
  private readonly capacity: number;
  private readonly noiseF: number;
  private readonly underShare: number;
  private readonly missShare: number;
  private readonly doubleShare: number;
  /** By rail: what the scanner adds, and the share of the rise that it sees. */
  private readonly addF: [number, number] = [0, 0];
  private readonly sees: [number, number] = [1, 1];
  private readonly perF: number;
  private readonly baseUnits: number;
  private readonly gapSteps: number;
  private readonly inchesPerMs: number;
  private readonly speedSteps: number;
  private timeMs = 0;
  private sinceInches = 0;
  private readonly haltRow: number;
  private readonly train: Train;
  private readonly wayside: Wayside;
  private readonly plan: PassPlan;
  private readonly nowMs: number;
  private readonly random: Random;

  constructor(train: Train, wayside: Wayside, plan: PassPlan, world: World, nowMs: number, random: Random) {
    this.train = train;
    this.wayside = wayside;
    this.plan = plan;
    this.nowMs = nowMs;
    this.random = random;
    const { track } = plan;
    const units = wayside.units;
    const miscount = wayside.spell("miscount", track, nowMs)?.value ?? 0;
    this.noiseF = world.noiseF * (wayside.spell("noise", track, nowMs)?.value ?? 1);
    this.underShare = world.underReadShare;
    this.missShare = (world.missedPerThousand + miscount) / 1000;
    this.doubleShare = (world.doubledPerThousand + miscount) / 1000;
    let axles = 0;
    for (const index of train.order) axles += (train.vehicles[index] as Vehicle).axles;
    this.capacity = Math.min(2000, axles + 8 + Math.ceil(axles * this.doubleShare * 3));
    this.haltRow = plan.haltMs > 0 ? random.below(axles) : -1;
    const column = (): Int32Array => new Int32Array(this.capacity);
    const ambientF = Math.round(wayside.ambientF(nowMs) * 10) / 10;
    this.out = {
      rows: 0,
      axleOfRow: column(),
      missed: [],
      ms: column(),
      gap: column(),
      speed: column(),
      bearing: [column(), column()],
      wheel: plan.hasWheel ? [column(), column()] : null,
      tags: wayside.readsTags ? [] : null,
      ambientF,
      biasF: [0, 0],
      marks: [],
      hot: [],
    };
    this.perF = (units.temperature === "C" ? 5 / 9 : 1) * 10;
    this.baseUnits = units.reading === "absolute" ? Math.round((units.temperature === "C" ? ((ambientF - 32) * 5) / 9 : ambientF) * 10) : 0;
    const grid = gapGrid(units.gap);
    this.gapSteps = grid.perInch * grid.steps;
    this.inchesPerMs = (plan.mph * INCHES_PER_SECOND_PER_MPH) / 1000;
    this.speedSteps = plan.mph * (units.speed === "mph" ? 10 : 16.09344);
    this.readRails(world);
  }

  private readRails(world: World): void {
    const { wayside, plan, random, out } = this;
    for (const rail of [0, 1] as const) {
      const name = rail === 0 ? "left" : "right";
      const device = `${plan.track}/${name}`;
      const bias = wayside.biasF(device, this.nowMs);
      const sun = wayside.sunF(device, this.nowMs);
      out.biasF[rail] = Math.round(bias * 100) / 100;
      this.addF[rail] = bias + sun + SIDE_SD_F * random.normal() + (plan.braking ? random.exponential(BRAKING_BEARING_F) : 0);
      if (sun > 2) out.marks.push(`sun-${name}`);
      if (wayside.spell("cold", device, this.nowMs) !== null) {
        this.sees[rail] = COLD_SEES_SHARE;
        out.marks.push(`cold-${name}`);
      } else if (random.chance(world.iceShare)) {
        this.sees[rail] = random.between(ICE_SEES_LOW_SHARE, ICE_SEES_HIGH_SHARE);
        out.marks.push(`ice-${name}`);
      }
    }
    if (plan.braking) out.marks.push("braking");
  }

  run(): Measured {
    const { train, random } = this;
    const { order, flipped } = train;
    const wheelF = WHEEL_RISE_F * (0.5 + 0.5 * train.warmth) + (this.plan.braking ? BRAKING_WHEEL_F * random.between(0.5, 1.5) : 0);
    let behind = 0;
    for (let at = 0; at < order.length; at++) {
      const vehicle = train.vehicles[order[at] as number] as Vehicle;
      const ahead = flipped ? vehicle.rearInches : vehicle.frontInches;
      const warmth = train.warmthOf(vehicle, this.nowMs);
      const common = train.commonRiseF(vehicle, this.plan.mph);
      for (let i = 0; i < vehicle.axles; i++) {
        const inside = flipped ? vehicle.axles - 1 - i : i;
        let gap: number;
        if (i > 0) gap = vehicle.gapsInches[flipped ? inside : inside - 1] as number;
        else gap = at === 0 ? 0 : behind + ahead + SLACK_INCHES * random.normal();
        this.axle(vehicle.firstAxle + inside, gap, warmth, common, wheelF);
        if (i === 0) this.tag(vehicle, vehicle.firstAxle + inside);
      }
      behind = flipped ? vehicle.frontInches : vehicle.rearInches;
    }
    return this.out;
  }

  private tag(vehicle: Vehicle, axle: number): void {
    const { tags, rows, axleOfRow } = this.out;
    if (tags !== null && rows > 0 && axleOfRow[rows - 1] === axle && this.random.chance(TAG_READ_SHARE)) tags[rows - 1] = vehicle.id;
  }

  private axle(axle: number, gapInches: number, warmth: number, common: number, wheelF: number): void {
    const { out, random } = this;
    this.timeMs += gapInches / this.inchesPerMs;
    this.sinceInches += gapInches;
    if (this.haltRow >= 0 && out.rows === this.haltRow) this.timeMs += this.plan.haltMs;
    const luck = random.unit();
    if (luck < this.missShare || out.rows >= this.capacity) {
      out.missed.push(axle);
      return;
    }
    const doubled = luck > 1 - this.doubleShare && out.rows > 0 && out.rows + 2 <= this.capacity;
    const early = doubled ? random.between(DOUBLED_GAP_LOW_INCHES, DOUBLED_GAP_HIGH_INCHES) : 0;
    if (doubled) this.row(axle, -1, this.sinceInches - early, this.timeMs - early / this.inchesPerMs, warmth, common, wheelF);
    this.row(axle, axle, doubled ? early : this.sinceInches, this.timeMs, warmth, common, wheelF);
    this.sinceInches = 0;
  }

  /** One row: what is measured of `seen`, standing in the truth as `axle`. */
  private row(seen: number, axle: number, gapInches: number, timeMs: number, warmth: number, common: number, wheelF: number): void {
    const { out, random, train } = this;
    const row = out.rows++;
    out.axleOfRow[row] = axle;
    out.ms[row] = Math.round(timeMs);
    out.gap[row] =
      row === 0
        ? NOT_MEASURED
        : Math.max(0, Math.round((gapInches * this.wayside.gapScale + GAP_NOISE_INCHES * random.normal()) * this.gapSteps));
    out.speed[row] = Math.round(this.speedSteps * (1 + 0.003 * random.normal()));
    const swap = (train.flipped ? 1 : 0) ^ (this.plan.direction === "falling" ? 1 : 0);
    for (let rail = 0 as 0 | 1; ; rail = 1) {
      const at = seen * 2 + (rail ^ swap);
      const rise = warmth * (common + (train.offsetF[at] as number) + (train.wanderF[at] as number)) + (bearingExtra[at] as number);
      this.bearing(row, rail, rise);
      if (out.wheel !== null) this.wheel(row, rail, wheelF + (wheelExtra[seen] as number));
      if (rail === 1) break;
    }
  }

  private bearing(row: number, rail: 0 | 1, riseF: number): void {
    const { random, out } = this;
    let readF = riseF * (this.sees[rail] as number) + (this.addF[rail] as number) + this.noiseF * random.normal();
    const luck = random.unit();
    if (luck < this.underShare)
      readF -= Math.min(UNDER_READ_MOST_F, Math.max(0, riseF) * random.between(UNDER_READ_LOW_SHARE, UNDER_READ_HIGH_SHARE));
    else if (luck > 1 - NULL_SHARE) {
      (out.bearing[rail] as Int32Array)[row] = NOT_MEASURED;
      return;
    }
    (out.bearing[rail] as Int32Array)[row] = this.baseUnits + Math.round(readF * this.perF);
    if (readF >= LIMIT_RISE_F && out.hot.length < ALARM_REPORTS) out.hot.push({ row, rail, riseF: readF, kind: "hot-bearing" });
  }

  private wheel(row: number, rail: 0 | 1, wheelF: number): void {
    const { out } = this;
    const readF = Math.max(0, wheelF + WHEEL_SD_F * this.random.normal());
    ((out.wheel as [Int32Array, Int32Array])[rail] as Int32Array)[row] = this.baseUnits + Math.round(readF * this.perF);
    if (readF + out.ambientF >= HOT_WHEEL_F && out.hot.length < ALARM_REPORTS) out.hot.push({ row, rail, riseF: readF, kind: "hot-wheel" });
  }
}
