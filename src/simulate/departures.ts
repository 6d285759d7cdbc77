import type { Source } from "./agenda.ts";
import { addBearing, addBrakes, ail } from "./ailments.ts";
import { KEY_SHARE, LOOK_ALIKE_MINUTES, PART_OF_ROUTE_SHARE, TURN_MILES } from "./assumptions.ts";
import { type Blueprint, drawBlueprint, drawTrainKind } from "./blueprint.ts";
import type { FeedText } from "./feed-text.ts";
import { type Random, stream } from "./random.ts";
import { between, milesOf, type Stop, wayBack } from "./route.ts";
import type { Scenario, WantedTrain } from "./scenario.ts";
import { Train } from "./train.ts";
import { type RunWishes, TrainRun, type Yard } from "./train-run.ts";

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const DAY_MS = 24 * HOUR_MS;

/** Trains of the background: drawn one after another, each when it departs. */
export class Departures implements Source<FeedText> {
  at: number;
  private readonly yard: Yard;
  private readonly routes: Stop[][];
  private readonly perDay: number;
  private readonly random: Random;
  private readonly lastMs: number;
  private number = 0;
  private follower: { blueprint: Blueprint; stops: Stop[]; atMs: number } | null = null;

  constructor(yard: Yard, routes: Stop[][], perDay: number, startMs: number) {
    this.yard = yard;
    this.routes = routes;
    this.perDay = perDay;
    this.random = stream(yard.seed, "departures");
    this.lastMs = yard.endMs;
    this.at = startMs + this.random.exponential(DAY_MS / perDay);
  }

  step(out: FeedText[]): void {
    const { yard, random } = this;
    const nowMs = this.at;
    if (this.follower !== null && this.follower.atMs <= nowMs) {
      const { blueprint, stops } = this.follower;
      this.follower = null;
      this.depart(blueprint, stops, nowMs, out);
    } else {
      const blueprint = drawBlueprint(drawTrainKind(random), random);
      const stops = this.drawStops();
      this.depart(blueprint, stops, nowMs, out);
      if (blueprint.kind === "unit" && random.chance(yard.world.lookAlikeShare / 0.3)) {
        this.follower = { blueprint, stops, atMs: nowMs + LOOK_ALIKE_MINUTES * MINUTE_MS * random.between(0.6, 1.6) };
      }
    }
    const next = nowMs + random.exponential(DAY_MS / this.perDay);
    this.at = this.follower !== null ? Math.min(this.follower.atMs, next) : next;
    if (this.at >= this.lastMs) this.at = Number.POSITIVE_INFINITY;
  }

  private drawStops(): Stop[] {
    const { random, yard } = this;
    let route = random.pick(this.routes);
    if (route.length > 5 && random.chance(PART_OF_ROUTE_SHARE)) {
      const first = random.below(route.length - 4);
      route = between(route, (route[first] as Stop).site, (route[random.whole(first + 4, route.length - 1)] as Stop).site) ?? route;
    }
    return random.chance(yard.world.returnShare) ? [...route, ...wayBack(route, TURN_MILES)] : route;
  }

  private depart(blueprint: Blueprint, stops: Stop[], nowMs: number, out: FeedText[]): void {
    const { yard } = this;
    const name = `T${String(++this.number).padStart(5, "0")}`;
    const random = stream(yard.seed, "train", name);
    const id = random.chance(yard.world.idShare) ? name : null;
    const train = new Train(name, id, blueprint, nowMs, random);
    ail(train, yard.world, milesOf(stops));
    if (id !== null && random.chance(yard.world.consistShare)) out.push(consistOf(train, id, nowMs, random.chance(KEY_SHARE)));
    yard.agenda.add(new TrainRun(yard, train, stops, nowMs, {}));
  }
}

/** The consist of a train, as its railroad would send it; in a key train every third car is placarded. */
function consistOf(train: Train, id: string, nowMs: number, key: boolean): FeedText {
  const vehicles = train.order.map((index, ordinal) => {
    const { id: mark, kind, axles, loaded, lengthFeet } = train.vehicles[index] as Train["vehicles"][number];
    return { id: mark, kind, axles, loaded, placarded: key && kind === "car" && ordinal % 3 === 0, length: lengthFeet };
  });
  const record = { type: "consist", train: id, time: new Date(Math.round(nowMs)).toISOString(), key, vehicles };
  return { topic: "consists", key: id, json: JSON.stringify(record), atMs: nowMs };
}

/** A train that a scenario asks for. It is built when it departs. */
export class WantedDeparture implements Source<FeedText> {
  at: number;
  private readonly yard: Yard;
  private readonly routes: Stop[][];
  private readonly wanted: WantedTrain;
  private readonly blueprint: Blueprint;

  constructor(yard: Yard, routes: Stop[][], scenario: Scenario, wanted: WantedTrain, startMs: number) {
    this.yard = yard;
    this.routes = routes;
    this.wanted = wanted;
    const model = wanted.lookAlikeOf === undefined ? wanted : scenario.trains.find((other) => other.name === wanted.lookAlikeOf);
    if (model === undefined)
      throw new RangeError(`SIM-005 ${wanted.name} looks like ${wanted.lookAlikeOf}, which the scenario does not have`);
    this.blueprint = drawBlueprint(model.kind, stream(yard.seed, "blueprint", model.name), model.cars);
    this.at = startMs + wanted.departs * HOUR_MS;
  }

  step(out: FeedText[]): void {
    const { yard, wanted } = this;
    const nowMs = this.at;
    this.at = Number.POSITIVE_INFINITY;
    const train = new Train(wanted.name, wanted.id ?? null, this.blueprint, nowMs, stream(yard.seed, "train", wanted.name));
    const there = this.routes.map((route) => between(route, wanted.from, wanted.to)).find((route) => route !== null);
    if (there === undefined || there === null)
      throw new RangeError(`SIM-006 no way for ${wanted.name} from ${wanted.from} to ${wanted.to}`);
    const stops = wanted.returns === undefined ? there : [...there, ...wayBack(there, TURN_MILES)];
    this.ail(train, milesOf(stops));
    const wishes: RunWishes = {
      plain: true,
      turn: wanted.returns,
      work: wanted.work?.map((work) => ({
        stop: stops.findIndex((stop) => stop.site === work.before),
        setOut: work.setOut,
        pickUp: work.pickUp,
      })),
    };
    if (wanted.consist && train.id !== null) out.push(consistOf(train, train.id, nowMs, wanted.key));
    yard.agenda.add(new TrainRun(yard, train, stops, nowMs, wishes));
  }

  private ail(train: Train, routeMiles: number): void {
    const { wanted } = this;
    const cars = train.vehicles.map((vehicle, index) => ({ vehicle, index })).filter((item) => item.vehicle.kind === "car");
    const carAt = (ordinal: number): { vehicle: Train["vehicles"][number]; index: number } => {
      const car = cars[ordinal - 1];
      if (car === undefined) throw new RangeError(`SIM-007 ${wanted.name} has ${cars.length} cars, not ${ordinal}`);
      return car;
    };
    for (const item of wanted.bearings ?? []) {
      const { car, axle, side, ...rest } = item;
      const first = carAt(car).vehicle.firstAxle;
      addBearing(train, { axle: first + axle - 1, side: side === "left" ? 0 : 1, ...rest }, routeMiles);
    }
    for (const item of wanted.brakes ?? []) {
      const { vehicle, index } = carAt(item.car);
      const axles = item.axles?.map((axle) => axle - 1) ?? Array.from({ length: vehicle.axles }, (_, i) => i);
      addBrakes(train, { ...item, vehicle: index, axles });
    }
  }
}
