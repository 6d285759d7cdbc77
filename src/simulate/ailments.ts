import {
  CROSSES_SHARE,
  HOT_WHEEL_BEARING_HIGH_F,
  HOT_WHEEL_BEARING_LOW_F,
  HOT_WHEEL_HIGH_F,
  HOT_WHEEL_LOW_F,
  HOT_WHEEL_WHOLE_CAR,
  LIMIT_RISE_F,
  SHARE_BURST,
  SHARE_FAST,
  SHARE_MEDIUM,
  SHARE_SLOW,
} from "./assumptions.ts";
import { BearingLife } from "./bearing-life.ts";
import { CLASS_MILES, type Curve, developing, type Form, plateau, rollOver } from "./curve.ts";
import type { Train } from "./train.ts";
import type { BearingKind, DefectClass } from "./truth.ts";
import type { World } from "./worlds.ts";

/** A bearing that a scenario asks for; what is left out is drawn. */
export interface WantedBearing {
  axle: number;
  side: 0 | 1;
  kind: BearingKind;
  class?: Exclude<DefectClass, "none"> | undefined;
  form?: Form | undefined;
  /** Mile at which its rise reaches the limit (developing) or at which it begins (others). */
  atMile?: number | undefined;
  miles?: number | undefined;
  /** Peak of a roll-over or plateau, extra rise of a warm runner. */
  riseF?: number | undefined;
}

export interface WantedBrakes {
  vehicle: number;
  /** Axles within the vehicle, from 0. */
  axles: number[];
  fromMile: number;
  toMile: number;
  wheelRiseF: number;
  bearingRiseF: number;
}

/** Gives a train what ails it in an ordinary life, by the world's shares. */
export function ail(train: Train, world: World, routeMiles: number): void {
  const { random } = train;
  for (const warm of train.warmRunners(world.warmShare)) {
    addBearing(train, { axle: warm.axle, side: warm.side, kind: "warm", riseF: warm.warmF }, routeMiles);
  }
  const bearings = (count: number, kind: BearingKind): void => {
    for (let i = 0; i < count; i++) addBearing(train, { ...anyBearing(train), kind }, routeMiles);
  };
  bearings(random.chance(world.developingPerTrain) ? 1 : 0, "developing");
  bearings(random.count(world.rollOverPerTrain), "roll-over");
  bearings(random.count(world.plateauPerTrain), "plateau");
  for (let count = random.count(world.brakesPerTrain); count > 0; count--) addBrakes(train, anyBrakes(train, routeMiles));
}

function anyBearing(train: Train): { axle: number; side: 0 | 1 } {
  // Mostly cars: locomotives are looked at daily.
  for (let tries = 0; tries < 20; tries++) {
    const axle = train.random.below(train.axles);
    if (train.vehicleOf(axle).kind === "car" || train.random.chance(0.1)) return { axle, side: train.random.below(2) as 0 | 1 };
  }
  return { axle: train.axles - 1, side: 0 };
}

/** Adds one extraordinary bearing; one that already is extraordinary stays as it is. */
export function addBearing(train: Train, wanted: WantedBearing, routeMiles: number): void {
  if (train.lives.some((life) => life.axle === wanted.axle && life.side === wanted.side)) return;
  const at = wanted.axle * 2 + wanted.side;
  if (wanted.kind === "warm") {
    train.offsetF[at] = (train.offsetF[at] as number) + (wanted.riseF ?? 40);
    train.lives.push(new BearingLife(train, wanted.axle, wanted.side, null, 0));
    return;
  }
  const { curve, onsetMile } = curveFor(train, wanted, routeMiles);
  const life = new BearingLife(train, wanted.axle, wanted.side, curve, onsetMile);
  // What never reaches the limit must not be carried over it by a bearing that is warm anyway.
  if (curve.kind !== "developing") train.offsetF[at] = Math.min(train.offsetF[at] as number, 8);
  train.lives.push(life);
}

function curveFor(train: Train, wanted: WantedBearing, routeMiles: number): { curve: Curve; onsetMile: number } {
  const { random } = train;
  if (wanted.kind === "roll-over" || wanted.kind === "plateau") {
    const curve = wanted.kind === "roll-over" ? rollOver(train.topMph, random, wanted.riseF) : plateau(train.topMph, random, wanted.riseF);
    return { curve, onsetMile: wanted.atMile ?? random.between(-40, routeMiles * 0.85) };
  }
  const vehicle = train.vehicleOf(wanted.axle);
  const healthyF = train.commonRiseF(vehicle, train.topMph) + (train.offsetF[wanted.axle * 2 + wanted.side] as number);
  const drawn = random.weighted<Exclude<DefectClass, "none">>([
    { weight: SHARE_SLOW, value: "slow" },
    { weight: SHARE_MEDIUM, value: "medium" },
    { weight: SHARE_FAST, value: "fast" },
    { weight: SHARE_BURST, value: "burst" },
  ]);
  const kind = wanted.class ?? drawn;
  const miles = wanted.miles ?? random.logBetween(...CLASS_MILES[kind]);
  const form = wanted.form === undefined ? {} : { form: wanted.form };
  const curve = developing({ class: kind, miles, overF: LIMIT_RISE_F - healthyF, mph: train.topMph, ...form }, random);
  const toLimit = Number.isFinite(curve.milesToLimit) ? curve.milesToLimit : miles;
  if (wanted.atMile !== undefined) return { curve, onsetMile: wanted.atMile - toLimit };
  const crosses = random.chance(CROSSES_SHARE);
  const onsetMile = crosses ? random.between(10, Math.max(20, routeMiles)) - toLimit : random.between(-0.3 * toLimit, routeMiles);
  return { curve, onsetMile };
}

function anyBrakes(train: Train, routeMiles: number): WantedBrakes {
  const { random } = train;
  let vehicle = random.below(train.vehicles.length);
  for (let tries = 0; tries < 20 && train.vehicles[vehicle]?.kind !== "car"; tries++) vehicle = random.below(train.vehicles.length);
  const axles = train.vehicles[vehicle]?.axles ?? 4;
  const whole = random.chance(HOT_WHEEL_WHOLE_CAR);
  const fromMile = random.between(-30, routeMiles);
  return {
    vehicle,
    axles: whole ? Array.from({ length: axles }, (_, i) => i) : [random.below(axles)],
    fromMile,
    toMile: fromMile + random.between(20, 150),
    wheelRiseF: random.between(HOT_WHEEL_LOW_F, HOT_WHEEL_HIGH_F),
    bearingRiseF: random.logBetween(HOT_WHEEL_BEARING_LOW_F, HOT_WHEEL_BEARING_HIGH_F),
  };
}

export function addBrakes(train: Train, wanted: WantedBrakes): void {
  const vehicle = train.vehicles[wanted.vehicle];
  if (vehicle === undefined) return;
  train.brakes.push({
    type: "brakes",
    train: train.name,
    vehicle: wanted.vehicle,
    axles: wanted.axles.filter((axle) => axle < vehicle.axles).map((axle) => vehicle.firstAxle + axle),
    fromMile: Math.round(wanted.fromMile * 10) / 10,
    toMile: Math.round(wanted.toMile * 10) / 10,
    wheelRiseF: Math.round(wanted.wheelRiseF),
    bearingRiseF: Math.round(wanted.bearingRiseF * 10) / 10,
  });
}
