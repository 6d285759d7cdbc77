import type { Integrity } from "../feed/record.ts";
import type { Link } from "../line/railroad.ts";
import type { Agenda, Source } from "./agenda.ts";
import {
  ALARM_STOP_HIGH_MINUTES,
  ALARM_STOP_LOW_MINUTES,
  BRAKING_SHARE,
  HALT_SHARE,
  ID_MISSING_SHARE,
  MEET_MINUTES,
  MISMATCH_TOLD_SHARE,
  OVERTAKE_SHARE,
  REPAIR_HIGH_MINUTES,
  REPAIR_LOW_MINUTES,
  RESTRICTED_MPH,
  SIDING_MILES,
  SLOW_SHARE,
} from "./assumptions.ts";
import { ride } from "./bearing-life.ts";
import type { Dispatcher } from "./dispatch.ts";
import type { FeedText } from "./feed-text.ts";
import { brakesShare, type Measured, measure, type PassPlan } from "./measure.ts";
import { PassLines } from "./pass-lines.ts";
import { type Random, stream } from "./random.ts";
import { equipmentReports, Fixed } from "./reports.ts";
import type { Stop } from "./route.ts";
import type { Train } from "./train.ts";
import { type PassTruth, runsOf, type TrainTruth, type Truth } from "./truth.ts";
import type { Wayside } from "./wayside.ts";
import type { World } from "./worlds.ts";
import { placeOn, repair, tooHotToMove, work } from "./yard-work.ts";

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const FEET_PER_SECOND_PER_MPH = 1.4667;
const SHARE_OF_FASTEST = 0.97;
const DEFAULT_MPH = 50;

/** All that trains share. */
export interface Yard {
  world: World;
  seed: number;
  endMs: number;
  agenda: Agenda<FeedText>;
  dispatcher: Dispatcher;
  waysides: Map<string, Wayside>;
  tell(truth: Truth): void;
}

export type Turn = "wye" | "reversed" | "run-around";

/** What a scenario fixes about a run; what is left out is drawn from the world. */
export interface RunWishes {
  /** How the train turns where its route turns. */
  turn?: Turn | undefined;
  /** By stop reached next: what is done at the first usable place of the link to it. */
  work?: { stop: number; setOut: number; pickUp: number }[] | undefined;
  /** Nothing is drawn: no chance stops, set-outs or halts. */
  plain?: boolean | undefined;
}

/** One train on its way: at each step it passes a site, or goes on from the siding beyond it. */
export class TrainRun implements Source<FeedText> {
  at: number;
  readonly train: Train;
  private readonly yard: Yard;
  private readonly stops: Stop[];
  private readonly wishes: RunWishes;
  private readonly random: Random;
  private index = 0;
  private track: string;
  private plan: PassPlan;
  private phase: "pass" | "enter" | "over" = "pass";
  private ended: TrainTruth["ended"] = "time-up";
  private lastWanderMile = 0;
  private alarmStop = false;
  private sidingMiles = 0;

  constructor(yard: Yard, train: Train, stops: Stop[], departMs: number, wishes: RunWishes) {
    this.yard = yard;
    this.train = train;
    this.stops = stops;
    this.wishes = wishes;
    this.random = stream(yard.seed, "run", train.name);
    const first = stops[0] as Stop;
    this.track = yard.dispatcher.tracksAt(first, stops[1])[0] as string;
    this.plan = this.planPass(first, this.track, Math.min(train.topMph, 35));
    this.at = yard.dispatcher.hold(first.site, this.track, departMs, this.durationMs());
    train.passTime(this.at, false);
  }

  step(): void {
    if (this.at >= this.yard.endMs && this.phase !== "over") this.phase = "over";
    if (this.phase === "pass") this.pass();
    else if (this.phase === "enter") this.enter();
    else this.tellEnd();
  }

  private planPass(stop: Stop, track: string, mph: number): PassPlan {
    const { random } = this;
    const wayside = this.yard.waysides.get(stop.site) as Wayside;
    const plain = this.wishes.plain === true;
    const slow = !plain && random.chance(SLOW_SHARE);
    return {
      track,
      hasWheel: wayside.site.tracks.find((item) => item.id === track)?.wheel === true,
      direction: stop.direction,
      mph: slow ? random.between(5, 9.5) : mph * random.between(0.88, 1.02),
      braking: random.chance(BRAKING_SHARE),
      haltMs: !plain && random.chance(HALT_SHARE) ? random.between(2, 15) * MINUTE_MS : 0,
    };
  }

  private durationMs(): number {
    return (this.train.lengthFeet() / (this.plan.mph * FEET_PER_SECOND_PER_MPH)) * 1000 + this.plan.haltMs + 12_000;
  }

  private pass(): void {
    const { train, yard, plan, random } = this;
    const stop = this.stops[this.index] as Stop;
    const wayside = yard.waysides.get(stop.site) as Wayside;
    const nowMs = Math.round(this.at);
    train.wander(Math.max(1, train.miles - this.lastWanderMile), random);
    this.lastWanderMile = train.miles;
    train.route.push(`${stop.site}/${this.track}/${stop.direction}`);
    const measured = measure(train, wayside, plan, yard.world, nowMs, random);
    const heard = wayside.spell("dead", "", nowMs) === null && wayside.spell("silent", this.track, nowMs) === null;
    if (heard) this.send(wayside, stop, measured, nowMs);
    else this.train.happened("unheard", `${stop.site} sent nothing of this pass`, nowMs);
    const link = this.stops[this.index + 1]?.link ?? null;
    this.sidingMiles = Math.min(SIDING_MILES, (link?.miles ?? 8) / 4);
    this.phase = "enter";
    this.at = nowMs + plan.haltMs + (this.sidingMiles / Math.max(10, plan.mph)) * HOUR_MS;
    this.travel(train.miles, train.miles + this.sidingMiles, nowMs, this.at, train.miles);
  }

  private send(wayside: Wayside, stop: Stop, measured: Measured, nowMs: number): void {
    const { train, yard, plan, random } = this;
    const { world } = yard;
    const pass = wayside.nextPass(this.track);
    const swapped = wayside.spell("direction", this.track, nowMs) !== null;
    const integrity: Integrity[] = [];
    if (plan.mph < 10) integrity.push("slow");
    if (plan.haltMs > 0) integrity.push("stopped-over-site");
    const miscounted = measured.missed.length > 0 || measured.axleOfRow.subarray(0, measured.rows).includes(-1);
    if (miscounted && random.chance(MISMATCH_TOLD_SHARE)) integrity.push("count-mismatch");
    const wrongId = train.id !== null && random.chance(world.wrongIdShare);
    const id = train.id === null || random.chance(ID_MISSING_SHARE) ? null : wrongId ? `X${random.whole(100, 999)}` : train.id;
    const reported = swapped ? (stop.direction === "rising" ? "falling" : "rising") : stop.direction;
    const noEnd = random.chance(world.noEndShare);
    const head = { pass, train: id, reportedDirection: reported, integrity, noEnd } as const;
    const lines = new PassLines(wayside, plan, head, measured, nowMs, world, random);
    const begunAs = new Date(Math.round(wayside.clockMs(nowMs))).toISOString().replace(/[-:.]/g, "");
    const passId = `${stop.site}/${this.track}/${pass}@${begunAs}`;
    const marks = [...measured.marks];
    if (swapped) marks.push("direction-swapped");
    if (noEnd) marks.push("no-end");
    if (wrongId) marks.push("wrong-id");
    for (const kind of ["late", "clock"] as const) if (wayside.spell(kind, "", nowMs) !== null) marks.push(kind);
    yard.agenda.add(lines);
    const endMs = nowMs + (measured.ms[measured.rows - 1] ?? 0) + 9_000;
    const truth: PassTruth = {
      type: "pass",
      train: train.name,
      id: passId,
      site: stop.site,
      track: this.track,
      pass,
      begun: new Date(nowMs).toISOString(),
      ended: new Date(endMs).toISOString(),
      direction: stop.direction,
      reportedDirection: reported,
      flipped: train.flipped,
      miles: Math.round(train.miles * 100) / 100,
      speedMph: Math.round(plan.mph * 10) / 10,
      rows: runsOf(measured.axleOfRow.subarray(0, measured.rows)),
      missed: measured.missed,
      biasF: measured.biasF,
      marks,
    };
    yard.tell(truth);
    this.noteLives(passId, nowMs);
    const reports = equipmentReports(wayside, this.track, pass, measured, endMs, random);
    if (reports.length > 0) yard.agenda.add(new Fixed(reports));
    // Reports are announced on the train's radio, whatever the desk makes of them.
    const hot = measured.hot.find((item) => item.kind === "hot-bearing");
    const axle = hot === undefined ? -1 : (measured.axleOfRow[hot.row] as number);
    if (axle >= 0) {
      train.condemned = train.vehicleIndexOf(axle);
      this.alarmStop = true;
    }
  }

  private noteLives(pass: string, nowMs: number): void {
    const { train } = this;
    for (const life of train.lives) {
      if (life.gone) continue;
      const brakes = train.brakes.filter((item) => item.axles.includes(life.axle));
      const braked = brakes.reduce((sum, item) => sum + item.bearingRiseF * brakesShare(item, train.miles), 0);
      const riseF = train.healthyRiseF(life.axle, life.side, this.plan.mph, nowMs) + life.excessF + braked;
      life.truth.atPasses.push({ pass, miles: Math.round(train.miles * 100) / 100, riseF: Math.round(riseF * 10) / 10 });
    }
  }

  /** From the siding beyond a site to the next site. */
  private enter(): void {
    const next = this.stops[this.index + 1];
    if (next === undefined) this.end("arrived");
    else if (next.link === null) this.turnBack(next);
    else this.goOn(next, next.link);
  }

  private goOn(next: Stop, link: Link): void {
    const { random, train } = this;
    const startMile = train.miles - this.sidingMiles;
    const stands = this.stands(next, startMile);
    const before = stands.filter((stand) => stand.mile === train.miles);
    const after = stands.filter((stand) => stand.mile > train.miles);
    let nowMs = this.at;
    for (const stand of before) {
      if (!this.travel(train.miles, train.miles, nowMs, nowMs + stand.minutes * MINUTE_MS, startMile)) return;
      nowMs += stand.minutes * MINUTE_MS;
      stand.act?.(nowMs);
    }
    const fastest = Math.min(train.topMph, link.fastestMph * SHARE_OF_FASTEST, train.condemned >= 0 ? RESTRICTED_MPH : DEFAULT_MPH * 2);
    const mph = fastest * random.between(0.84, 1);
    const runMs = ((link.miles - this.sidingMiles) / mph) * HOUR_MS;
    const standMs = after.reduce((sum, stand) => sum + stand.minutes * MINUTE_MS, 0);
    const meetMs = random.between(0.3, 1.7) * MEET_MINUTES * MINUTE_MS;
    this.plan = this.planPass(next, this.track, mph);
    const overtakes = this.wishes.plain !== true && random.chance(OVERTAKE_SHARE);
    const passage = this.yard.dispatcher.travel(
      next,
      this.stops[this.index + 2],
      this.track,
      nowMs,
      runMs + standMs,
      this.durationMs(),
      overtakes,
      meetMs,
    );
    if (passage === null) {
      this.end("arrived");
      return;
    }
    const waitMs = passage.arriveMs - nowMs - runMs - standMs;
    if (waitMs > MINUTE_MS)
      after.push({ mile: train.miles + random.between(0.1, 0.9) * (link.miles - this.sidingMiles), minutes: waitMs / MINUTE_MS });
    if (!this.runLink(after, startMile, link.miles, nowMs, passage.arriveMs, runMs)) return;
    this.track = passage.track;
    const wayside = this.yard.waysides.get(next.site) as Wayside;
    this.plan = { ...this.plan, track: this.track, hasWheel: wayside.site.tracks.find((item) => item.id === this.track)?.wheel === true };
    this.index++;
    this.phase = "pass";
    this.at = passage.arriveMs;
  }

  /** Runs between the stands of a link; false when the train got no further. */
  private runLink(stands: Stand[], startMile: number, linkMiles: number, fromMs: number, arriveMs: number, runMs: number): boolean {
    const { train } = this;
    const endMile = startMile + linkMiles;
    const perMile = runMs / (endMile - train.miles);
    let nowMs = fromMs;
    for (const stand of stands.sort((a, b) => a.mile - b.mile)) {
      const thereMs = nowMs + (stand.mile - train.miles) * perMile;
      if (!this.travel(train.miles, stand.mile, nowMs, thereMs, startMile)) return false;
      nowMs = thereMs + stand.minutes * MINUTE_MS;
      if (!this.travel(stand.mile, stand.mile, thereMs, nowMs, startMile)) return false;
      stand.act?.(nowMs);
    }
    return this.travel(train.miles, endMile, nowMs, Math.max(arriveMs, nowMs + 1), startMile);
  }

  private travel(fromMile: number, toMile: number, fromMs: number, toMs: number, startMile: number): boolean {
    const here = this.stops[this.index] as Stop;
    const next = this.stops[this.index + 1] ?? here;
    const mph = toMile > fromMile ? ((toMile - fromMile) / (toMs - fromMs)) * HOUR_MS : this.plan.mph;
    const failed = ride(this.train, { fromMs, toMs, fromMile, toMile, mph, link: { from: here.site, to: next.site, startMile } });
    if (failed === null) return true;
    const vehicle = this.train.vehicleIndexOf(failed.life.axle) + 1;
    const timeMs = Date.parse(failed.place.time);
    this.train.happened("failed", `a bearing of vehicle ${vehicle} failed; the train got no further`, timeMs, failed.place.mile);
    this.end("failed", timeMs);
    return false;
  }

  /** Where the train will stand on its way over a link, and what is done there. */
  private stands(next: Stop, startMile: number): Stand[] {
    const { random, train, yard, wishes } = this;
    const stands: Stand[] = [];
    const drawn = wishes.plain !== true;
    const place = placeOn(next, startMile, this.track, this.sidingMiles);
    if (this.alarmStop) {
      this.alarmStop = false;
      this.train.happened("stopped", "stopped and inspected after a site's report", this.at);
      if (place === null && tooHotToMove(train, this.plan.mph, this.at)) {
        const minutes = random.between(REPAIR_LOW_MINUTES, REPAIR_HIGH_MINUTES);
        stands.push({ mile: train.miles, minutes, act: (nowMs) => repair(train, nowMs) });
      } else {
        stands.push({ mile: train.miles, minutes: random.between(ALARM_STOP_LOW_MINUTES, ALARM_STOP_HIGH_MINUTES) });
      }
    } else if (drawn && random.chance(yard.world.stopShare)) {
      stands.push({ mile: train.miles, minutes: random.between(10, 75) });
    }
    if (place === null) return stands;
    const wanted = wishes.work?.find((work) => work.stop === this.index + 1);
    const most = Math.min(15, place.setOut.carLengths);
    const setOut = wanted?.setOut ?? (drawn && random.chance(yard.world.setOutShare) ? random.whole(1, most) : 0);
    const pickUp = wanted?.pickUp ?? (drawn && random.chance(yard.world.pickUpShare) ? random.whole(1, 15) : 0);
    if (train.condemned < 0 && setOut === 0 && pickUp === 0) return stands;
    const act = (nowMs: number): void => work(train, place.setOut, setOut, pickUp, nowMs, random);
    stands.push({ mile: place.mile, minutes: random.between(25, 60), act });
    return stands;
  }

  /** Turns beyond the last site and comes back past it. */
  private turnBack(next: Stop): void {
    const { train, random, yard, wishes } = this;
    const readyMs = this.at + random.between(70, 200) * MINUTE_MS;
    if (!this.travel(train.miles, train.miles, this.at, readyMs, train.miles)) return;
    const kind = wishes.turn ?? random.pick<Turn>(["wye", "reversed", "run-around"]);
    if (kind !== "wye") train.reverse(kind === "run-around");
    const words = { wye: "turned on a wye", reversed: "came back the other way round", "run-around": "locomotives ran round, came back" };
    this.train.happened("turned", words[kind], readyMs);
    const mph = 25;
    const thereMs = readyMs + (this.sidingMiles / mph) * HOUR_MS;
    this.index++;
    this.track = yard.dispatcher.tracksAt(next, this.stops[this.index + 1])[0] as string;
    this.plan = this.planPass(next, this.track, mph);
    const at = yard.dispatcher.hold(next.site, this.track, thereMs, this.durationMs());
    if (at > thereMs && !this.travel(train.miles, train.miles, readyMs, readyMs + at - thereMs, train.miles)) return;
    if (!this.travel(train.miles, train.miles + this.sidingMiles, readyMs + at - thereMs, at, train.miles)) return;
    this.phase = "pass";
    this.at = at;
  }

  private end(how: "arrived" | "failed", atMs = this.at): void {
    this.ended = how;
    this.phase = "over";
    this.at = atMs;
  }

  private tellEnd(): void {
    const { train, yard } = this;
    this.at = Number.POSITIVE_INFINITY;
    for (const life of train.lives) if (life.truth.atPasses.length > 0) yard.tell(life.truth);
    for (const brakes of train.brakes) yard.tell(brakes);
    const vehicles = train.vehicles.map(({ kind, id, firstAxle, axles, trucks, joinedMile, leftMile }) => {
      return { kind, id, firstAxle, axles, trucks, joinedMile, leftMile };
    });
    const miles = Math.round(train.miles * 100) / 100;
    const { name, id, kind, route, events } = train;
    yard.tell({ type: "train", train: name, id, kind, route, miles, vehicles, events, ended: this.ended });
  }
}

interface Stand {
  mile: number;
  minutes: number;
  act?: (nowMs: number) => void;
}
