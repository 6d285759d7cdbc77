import type { SetOut } from "../line/railroad.ts";
import { CRITICAL_RISE_F } from "./assumptions.ts";
import type { BearingLife } from "./bearing-life.ts";
import { drawBlueprint } from "./blueprint.ts";
import type { Random } from "./random.ts";
import type { Stop } from "./route.ts";
import type { Vehicle } from "./stock.ts";
import type { Train } from "./train.ts";

/** A set-out place this near to a siding or a site is not used. */
const CLEAR_MILES = 0.2;
/** Taken cars mostly stand right behind the locomotives, otherwise anywhere. */
const ANYWHERE_SHARE = 0.4;
/** No train is shortened to fewer vehicles than this. */
const FEWEST_LEFT = 8;

/** First set-out place on a link that a train can use, beyond the siding; `mile` is that of its journey. */
export function placeOn(next: Stop, startMile: number, track: string, sidingMiles: number): { setOut: SetOut; mile: number } | null {
  const link = next.link;
  if (link === null) return null;
  for (const setOut of next.forward ? link.setOuts : [...link.setOuts].reverse()) {
    const miles = next.forward ? setOut.miles : link.miles - setOut.miles;
    if (miles <= sidingMiles + CLEAR_MILES || miles >= link.miles - CLEAR_MILES) continue;
    if (!(next.forward ? setOut.forward : setOut.backward)) continue;
    if (next.forward && !setOut.tracks.includes(track)) continue;
    return { setOut, mile: startMile + miles };
  }
  return null;
}

/** Leaves the vehicle that a site reported, then a block of cars, and takes others. */
export function work(train: Train, place: SetOut, setOut: number, pickUp: number, nowMs: number, random: Random): void {
  if (train.condemned >= 0) {
    const at = train.order.indexOf(train.condemned);
    // A locomotive is isolated and stays.
    if (at >= 0 && train.vehicles[train.condemned]?.kind === "car") leave(train, at, 1, place, nowMs);
    train.condemned = -1;
  }
  const vehicles = train.order.length;
  const blockAt = random.below(Math.max(1, vehicles - setOut));
  if (setOut > 0 && vehicles > setOut + FEWEST_LEFT) leave(train, blockAt, setOut, place, nowMs);
  if (pickUp > 0) take(train, pickUp, place, nowMs, random);
}

/** Whether a bearing of the reported vehicle is over the rise at which nobody would move it on. */
export function tooHotToMove(train: Train, mph: number, nowMs: number): boolean {
  return livesOf(train, train.condemned).some(
    (life) => life.excessF + train.healthyRiseF(life.axle, life.side, mph, nowMs) >= CRITICAL_RISE_F,
  );
}

/** The wheelset is changed where the train stands: there was no place to leave the vehicle. */
export function repair(train: Train, nowMs: number): void {
  for (const life of livesOf(train, train.condemned)) leaveLife(life, train.miles);
  train.happened("repaired", "the wheelset was changed where the train stood", nowMs);
  train.condemned = -1;
}

function livesOf(train: Train, index: number): BearingLife[] {
  const vehicle = train.vehicles[index];
  if (vehicle === undefined) return [];
  return train.lives.filter((life) => !life.gone && life.axle >= vehicle.firstAxle && life.axle < vehicle.firstAxle + vehicle.axles);
}

function leaveLife(life: BearingLife, mile: number): void {
  life.gone = true;
  life.truth.setOutMile = Math.round(mile * 100) / 100;
}

/** Leaves up to `count` cars from a place in the train on; a locomotive ends the block. */
function leave(train: Train, at: number, count: number, place: SetOut, nowMs: number): void {
  let first = at;
  while (first < train.order.length && train.vehicles[train.order[first] as number]?.kind !== "car") first++;
  let last = first;
  while (last < train.order.length && last - first < count && train.vehicles[train.order[last] as number]?.kind === "car") last++;
  const left = train.order.splice(first, last - first);
  if (left.length === 0) return;
  for (const index of left) {
    const vehicle = train.vehicles[index] as Vehicle;
    vehicle.leftMile = Math.round(train.miles * 100) / 100;
    for (const life of livesOf(train, index)) leaveLife(life, train.miles);
  }
  train.happened("set-out", `${carWords(left.length)} left at ${place.name}`, nowMs);
}

function take(train: Train, count: number, place: SetOut, nowMs: number, random: Random): void {
  const blueprint = drawBlueprint(train.kind === "intermodal" ? "intermodal" : "mixed", random, count);
  const stock = blueprint.vehicles.filter((item) => item.stock.kind === "car");
  let at = 0;
  while (at < train.order.length && train.vehicles[train.order[at] as number]?.kind === "locomotive") at++;
  if (random.chance(ANYWHERE_SHARE)) at = random.whole(at, train.order.length);
  const added = stock.map((item) => {
    const index = train.add(item.stock, item.loaded);
    const vehicle = train.vehicles[index] as Vehicle;
    vehicle.cold = 1;
    vehicle.joinedMs = nowMs;
    vehicle.joinedMile = Math.round(train.miles * 100) / 100;
    return index;
  });
  train.order.splice(at, 0, ...added);
  train.happened("pick-up", `${carWords(added.length)} taken at ${place.name}`, nowMs);
}

function carWords(count: number): string {
  return `${count} car${count === 1 ? "" : "s"}`;
}
