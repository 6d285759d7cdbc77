import type { Calibration } from "../../src/bearing/calibration.ts";
import type { LookTaken } from "../../src/flow/bearings.ts";
import type { Sink } from "../../src/flow/sink.ts";
import { type JoinDoubt, type Journey, type Leg, railOfSide, rowOfRoster } from "../../src/journey/journey.ts";
import type { Railroad } from "../../src/line/railroad.ts";
import type { Pass } from "../../src/pass/pass.ts";
import type { SiteTruth, Truth } from "../../src/simulate/truth.ts";
import { hazardWeight, sitesAhead } from "../../src/warning/ahead.ts";
import type { RuleBook } from "../../src/warning/rule-book.ts";
import { IdentityBook } from "./identity.ts";
import { type LookNote, type PassCase, TrainCase } from "./train-case.ts";
import { warnFactor } from "./warn-factor.ts";

/** A train is scored at the latest this long after its end: the lateness bound, the longest spell of a late site, and room. */
const DAY_MS = 24 * 3_600_000;
const PATIENCE_MS = 6 * 3_600_000;

/**
 * Holds the truth of a simulated day beside what the engine makes of it, train by train. A train is handed on once its last
 * pass is settled, so what is held is bounded by the trains on the way.
 */
export class DayWatch {
  readonly startMs: number;
  readonly sites: SiteTruth[] = [];
  readonly identity = new IdentityBook();
  /** Newest calibration of each scanner by `<site>/<track>/<rail>`, now and at the end of the first day. */
  readonly calibrations = new Map<string, Calibration>();
  readonly firstDay = new Map<string, Calibration>();
  warnings = 0;
  rejected = 0;
  /** Passes published by the engine that the truth does not know. */
  strangers = 0;
  private readonly railroad: Railroad;
  private readonly book: RuleBook;
  private readonly done: (train: TrainCase) => void;
  private readonly trains = new Map<string, TrainCase>();
  private readonly passes = new Map<string, { train: TrainCase; pass: PassCase }>();
  private readonly looks = new WeakMap<Leg, LookNote[]>();

  constructor(railroad: Railroad, book: RuleBook, startMs: number, done: (train: TrainCase) => void) {
    this.railroad = railroad;
    this.book = book;
    this.startMs = startMs;
    this.done = done;
  }

  /** What really happened, as the simulator tells it. */
  tell(truth: Truth, nowMs: number): void {
    if (truth.type === "site") this.sites.push(truth);
    if (truth.type === "pass") {
      const train = this.trainOf(truth.train);
      this.passes.set(truth.id, { train, pass: train.addPass(truth) });
    }
    if (truth.type === "bearing") this.trainOf(truth.train).bearings.push(truth);
    if (truth.type === "brakes") this.trainOf(truth.train).brakes.push(truth);
    if (truth.type === "train") {
      const train = this.trainOf(truth.train);
      train.truth = truth;
      train.endedMs = nowMs;
    }
  }

  /** Ear of the engine. */
  sink(): Sink {
    return {
      pass: (pass) => this.published(pass),
      warning: () => {
        this.warnings++;
      },
      condition: () => {},
      calibration: (calibration) => this.calibrated(calibration),
      rejected: () => {
        this.rejected++;
      },
      settled: (journey, leg, doubt, corridor) => this.settled(journey, leg, doubt, corridor),
    };
  }

  private published(pass: Pass): void {
    const known = this.passes.get(pass.id);
    if (known === undefined) this.strangers++;
    else known.pass.pass = pass;
  }

  private calibrated(calibration: Calibration): void {
    const key = `${calibration.site}/${calibration.track}/${calibration.rail}`;
    this.calibrations.set(key, calibration);
    if (Date.parse(calibration.time) <= this.startMs + DAY_MS) this.firstDay.set(key, calibration);
  }

  /** Every look, also those that a late pass will have taken anew: only a settled leg's count. */
  look(taken: LookTaken): void {
    const leg = taken.journey.legs[taken.legIndex]!;
    const notes = this.looks.get(leg) ?? [];
    const note = this.noteOf(taken, leg);
    const before = notes.findIndex((one) => one.rosterAxle === note.rosterAxle && one.side === note.side);
    if (before >= 0) notes.splice(before, 1);
    notes.push(note);
    this.looks.set(leg, notes);
  }

  private noteOf({ journey, legIndex, rosterAxle, side, look, decision }: LookTaken, leg: Leg): LookNote {
    const rules = this.book.at(leg.pass.endedMs);
    const ahead = sitesAhead(look.ahead, rules);
    const seen = lastSeen(journey, legIndex, rosterAxle);
    return {
      passId: seen.pass.id,
      row: rowOfRoster(seen, rosterAxle),
      rail: railOfSide(seen, side),
      journey: journey.id,
      rosterAxle,
      side,
      factor: warnFactor(decision.onItsWay ?? null, look.heat, look.readings, hazardWeight(look.ahead, rules), rules),
      outlook: look.outlook,
      heat: look.heat,
      now: decision.now,
      cause: decision.cause,
      excessF: look.excessF,
      nextMiles: ahead[0]!.miles,
      nextButOneMiles: ahead[1]!.miles,
      words: decision.reasons.join(" "),
    };
  }

  private settled(journey: Journey, leg: Leg, doubt: JoinDoubt | null, corridor: string): void {
    const known = this.passes.get(leg.pass.id);
    if (known === undefined) return;
    this.identity.settled(corridor, journey, leg, known.train.name, known.pass);
    known.pass.corridors.push(corridor);
    if (this.railroad.corridorsOf(leg.pass.site)[0] !== corridor) return;
    known.pass.levels = leg.levels;
    known.pass.joinedFrom = leg.join?.from ?? null;
    known.pass.doubt = doubt?.kind ?? null;
    known.pass.looks = this.looks.get(leg) ?? [];
  }

  /** Train of a pass id, for telling a wrong join from a right one. */
  trainOfPass(passId: string): string | null {
    return this.passes.get(passId)?.train.name ?? null;
  }

  /** Hands on the trains that nothing can change any more; all of them at the end. */
  release(nowMs: number): void {
    for (const [name, train] of this.trains) {
      const over = train.truth !== null && (train.isSettled ? nowMs > train.endedMs : nowMs > train.endedMs + PATIENCE_MS);
      if (!over && nowMs !== Number.POSITIVE_INFINITY) continue;
      this.done(train);
      this.trains.delete(name);
      for (const one of train.passes) this.passes.get(one.truth.id)!.pass = slim(one);
    }
  }

  private trainOf(name: string): TrainCase {
    let train = this.trains.get(name);
    if (train === undefined) {
      train = new TrainCase(name);
      this.trains.set(name, train);
    }
    return train;
  }
}

/** What is kept of a scored pass: whose it was. */
function slim(one: PassCase): PassCase {
  return { ...one, axleOfRow: new Int32Array(0), pass: null, levels: null, looks: [] };
}

/** The last leg, up to one, that saw an axle; the leg itself where none did. */
function lastSeen(journey: Journey, legIndex: number, rosterAxle: number): Leg {
  for (let at = legIndex; at >= 0; at--) {
    const leg = journey.legs[at]!;
    if (rowOfRoster(leg, rosterAxle) >= 0) return leg;
  }
  return journey.legs[legIndex]!;
}
