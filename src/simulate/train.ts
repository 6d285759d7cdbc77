import {
  EMPTY_FACTOR,
  HEALTHY_BEARING_SD_F,
  HEALTHY_RISE_F,
  HEALTHY_SKEW,
  HEALTHY_TRAIN_SD_F,
  LOCOMOTIVE_RISE_F,
  LOCOMOTIVE_SD_F,
  SPEED_SHARE,
  START_WARMTH_HIGH,
  START_WARMTH_LOW,
  TAU_HIGH_MINUTES,
  TAU_LOW_MINUTES,
  WANDER_MILES,
  WANDER_SD_F,
  WARM_LOW_F,
  WARM_MEAN_F,
  WARM_MOST_F,
} from "./assumptions.ts";
import type { BearingLife } from "./bearing-life.ts";
import type { Blueprint, TrainKind } from "./blueprint.ts";
import type { Random } from "./random.ts";
import { buildVehicle, type Stock, type Vehicle } from "./stock.ts";
import type { BrakesTruth, TrainTruth } from "./truth.ts";

/** Reference speed of HEALTHY_RISE_F. */
const REFERENCE_MPH = 45;
const MINUTE_MS = 60_000;

/** A simulated train: its vehicles as they stand, how warm it is, and what ails it. Changed in place as it runs. */
export class Train {
  readonly name: string;
  readonly id: string | null;
  readonly kind: TrainKind;
  readonly topMph: number;
  readonly random: Random;
  vehicles: Vehicle[] = [];
  /** Indices of the vehicles on the train, head to rear as it runs now. */
  order: number[] = [];
  /** Runs the other way round than it set out. */
  flipped = false;
  axles = 0;
  /** Persistent offset (warm runners included) and slow wander of each bearing, by 2 x axle + side. */
  offsetF = new Float32Array(0);
  wanderF = new Float32Array(0);
  /** Miles since its first site, of the head. */
  miles = 0;
  /** 0 cold .. 1 as warm as it gets; first-order response. */
  warmth: number;
  warmthMs: number;
  readonly tauMinutes: number;
  readonly levelF: number;
  readonly lives: BearingLife[] = [];
  readonly brakes: BrakesTruth[] = [];
  readonly events: TrainTruth["events"] = [];
  readonly route: string[] = [];
  /** Vehicle to be left at the next set-out place, -1 none. */
  condemned = -1;

  constructor(name: string, id: string | null, blueprint: Blueprint, startMs: number, random: Random) {
    this.name = name;
    this.id = id;
    this.kind = blueprint.kind;
    this.topMph = blueprint.topMph;
    this.random = random;
    this.warmth = random.between(START_WARMTH_LOW, START_WARMTH_HIGH);
    this.warmthMs = startMs;
    this.tauMinutes = random.between(TAU_LOW_MINUTES, TAU_HIGH_MINUTES);
    this.levelF = Math.max(18, HEALTHY_RISE_F + HEALTHY_TRAIN_SD_F * random.normal());
    for (const item of blueprint.vehicles) this.order.push(this.add(item.stock, item.loaded));
  }

  /** Adds a vehicle to the roster (not to the order) and gives its index. */
  add(stock: Stock, loaded: boolean): number {
    const letters = stock.kind === "locomotive" ? "LX" : "QX";
    const vehicle = buildVehicle(stock, `${letters} ${this.random.whole(100_000, 999_999)}`, this.axles, loaded, this.random);
    this.axles += vehicle.axles;
    this.vehicles.push(vehicle);
    this.grow(this.axles * 2);
    for (let at = vehicle.firstAxle * 2; at < this.axles * 2; at++) {
      const sd = vehicle.kind === "locomotive" ? LOCOMOTIVE_SD_F : HEALTHY_BEARING_SD_F;
      const plain = this.random.normal();
      const stretched = plain > 1 ? plain + HEALTHY_SKEW * (plain - 1) : plain;
      this.offsetF[at] = sd * stretched + (vehicle.kind === "locomotive" ? LOCOMOTIVE_RISE_F : 0);
      this.wanderF[at] = WANDER_SD_F * this.random.normal();
    }
    return this.vehicles.length - 1;
  }

  private grow(size: number): void {
    if (this.offsetF.length >= size) return;
    const room = Math.max(size, this.offsetF.length * 2);
    const offset = new Float32Array(room);
    const wander = new Float32Array(room);
    offset.set(this.offsetF);
    wander.set(this.wanderF);
    this.offsetF = offset;
    this.wanderF = wander;
  }

  /** Lets time pass, running or standing: the train warms or cools as one. */
  passTime(toMs: number, running: boolean): void {
    const minutes = Math.max(0, toMs - this.warmthMs) / MINUTE_MS;
    const aim = running ? 1 : 0;
    this.warmth += (aim - this.warmth) * (1 - Math.exp(-minutes / this.tauMinutes));
    this.warmthMs = Math.max(this.warmthMs, toMs);
  }

  /** How warm a vehicle is: one picked up cold lags behind. */
  warmthOf(vehicle: Vehicle, nowMs: number): number {
    if (vehicle.cold === 0) return this.warmth;
    return this.warmth * (1 - vehicle.cold * Math.exp(-(nowMs - vehicle.joinedMs) / MINUTE_MS / this.tauMinutes));
  }

  /** Rise that all bearings of a vehicle share, before each one's offset. */
  commonRiseF(vehicle: Vehicle, mph: number): number {
    const load = vehicle.loaded ? 1 : EMPTY_FACTOR;
    return this.levelF * load * (1 - SPEED_SHARE + (SPEED_SHARE * mph) / REFERENCE_MPH);
  }

  /** Healthy rise of one bearing now, defect not counted. */
  healthyRiseF(axle: number, side: 0 | 1, mph: number, nowMs: number): number {
    const vehicle = this.vehicleOf(axle);
    const at = axle * 2 + side;
    const rise = this.commonRiseF(vehicle, mph) + (this.offsetF[at] as number) + (this.wanderF[at] as number);
    return this.warmthOf(vehicle, nowMs) * rise;
  }

  vehicleIndexOf(axle: number): number {
    let low = 0;
    let high = this.vehicles.length - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if ((this.vehicles[middle] as Vehicle).firstAxle <= axle) low = middle;
      else high = middle - 1;
    }
    return low;
  }

  vehicleOf(axle: number): Vehicle {
    return this.vehicles[this.vehicleIndexOf(axle)] as Vehicle;
  }

  /** Every bearing wanders a little over `miles`. */
  wander(miles: number, random: Random): void {
    const keep = Math.exp(-miles / WANDER_MILES);
    const fresh = WANDER_SD_F * Math.sqrt(1 - keep * keep);
    const wander = this.wanderF;
    const end = this.axles * 2;
    for (let at = 0; at < end; at++) wander[at] = keep * (wander[at] as number) + fresh * random.normal();
  }

  /** Turned end for end along the track: the order is reversed and the sides change places. Locomotives at the head run round to the new head. */
  reverse(runRound: boolean): void {
    let power = 0;
    while (runRound && power < this.order.length && this.vehicles[this.order[power] as number]?.kind === "locomotive") power++;
    const head = this.order.slice(0, power).reverse();
    this.order = [...head, ...this.order.slice(power).reverse()];
    this.flipped = !this.flipped;
  }

  /** Notes what happened to the train, for the truth. */
  happened(kind: string, words: string, timeMs: number, mile = this.miles): void {
    this.events.push({ mile: Math.round(mile * 100) / 100, time: new Date(Math.round(timeMs)).toISOString(), kind, words });
  }

  lengthFeet(): number {
    let feet = 0;
    for (const index of this.order) feet += (this.vehicles[index] as Vehicle).lengthFeet;
    return feet;
  }

  /** Makes a share of the bearings warm runners; gives those that are. */
  warmRunners(share: number): { axle: number; side: 0 | 1; warmF: number }[] {
    const found: { axle: number; side: 0 | 1; warmF: number }[] = [];
    for (let wanted = this.random.count(this.axles * 2 * share); wanted > 0; wanted--) {
      const axle = this.random.below(this.axles);
      const side = this.random.below(2) as 0 | 1;
      if (found.some((other) => other.axle === axle && other.side === side)) continue;
      found.push({ axle, side, warmF: this.warmF() });
    }
    return found;
  }

  /** Exponential between its ends: none are heaped up at the hottest. */
  private warmF(): number {
    const beyond = Math.exp(-(WARM_MOST_F - WARM_LOW_F) / WARM_MEAN_F);
    return WARM_LOW_F - WARM_MEAN_F * Math.log(1 - (1 - beyond) * this.random.unit());
  }
}
