import { Biases } from "../../bearing/biases.ts";
import type { Calibration } from "../../bearing/calibration.ts";
import { level } from "../../bearing/level.ts";
import type { Consist } from "../../feed/record.ts";
import { Journeys } from "../../journey/join.ts";
import type { JoinDoubt, Journey, Leg } from "../../journey/journey.ts";
import type { Direction, Railroad } from "../../line/railroad.ts";
import { namedVehicles } from "../../pass/consist.ts";
import { comparePasses, type Pass } from "../../pass/pass.ts";

/** One pass as a point of its train's line in the time-distance diagram. */
export interface Point {
  pass: string;
  corridor: string;
  journey: string;
  train: string | null;
  site: string;
  track: string;
  timeMs: number;
  direction: Direction;
  axles: number;
  /** Joined to the pass before it in its journey; false begins one. */
  joined: boolean;
}

/** Points kept of a corridor: a day of a busy one (assumption); the oldest go first. */
export const MOST_POINTS = 20_000;
/** Passes that may still be placed anew when a late one comes, and consists remembered. */
export const MOST_PLACED = 2_000;
export const MOST_CONSISTS = 2_000;
/** A pass later than this joins nothing, as in the engine's own fold. */
const LATENESS_MS = 2 * 3_600_000;
/** Journeys stay for the pages so long after their last pass; columns of all axles are dear. Assumption. */
export const KEPT_MS = 14 * 3_600_000;

/**
 * The trains of one corridor for the pages: the same joining as the engine's, over the same passes. A late pass takes back
 * those after it and places them anew, so the lines end the same whatever the order of arrival.
 */
export class Trains {
  readonly corridor: string;
  private readonly journeys: Journeys;
  private readonly biases = new Biases();
  private readonly placed: Pass[] = [];
  private readonly points = new Map<string, Point>();
  private readonly doubts = new Map<string, JoinDoubt>();
  private readonly consists = new Map<string, Consist>();
  private latestMs = Number.NEGATIVE_INFINITY;

  constructor(railroad: Railroad, corridor: string) {
    this.corridor = corridor;
    this.journeys = new Journeys(railroad);
  }

  /** A pass; returns the points that are new or different. */
  pass(pass: Pass): Point[] {
    if (pass.endedMs < this.latestMs - LATENESS_MS || this.points.has(pass.id)) return [];
    let at = this.placed.length;
    while (at > 0 && comparePasses(pass, this.placed[at - 1]!) < 0) at--;
    const changed: Point[] = [];
    if (at === this.placed.length) changed.push(this.place(this.named(pass)));
    else {
      this.journeys.rollBack(pass);
      const again = this.placed.splice(at);
      changed.push(this.place(this.named(pass)));
      for (const one of again) changed.push(this.place(one));
    }
    this.latestMs = Math.max(this.latestMs, pass.endedMs);
    this.forget();
    return changed;
  }

  calibration(calibration: Calibration): void {
    this.biases.add(calibration);
  }

  consist(consist: Consist): void {
    this.consists.delete(consist.train);
    this.consists.set(consist.train, consist);
    if (this.consists.size > MOST_CONSISTS) this.consists.delete(this.consists.keys().next().value as string);
  }

  journey(id: string): Journey | null {
    for (const journey of this.journeys) if (journey.id === id) return journey;
    return null;
  }

  /** The journey that a pass is a leg of. */
  journeyOf(pass: string): Journey | null {
    return this.journeys.journeyOf(pass)?.journey ?? null;
  }

  all(): Iterable<Journey> {
    return this.journeys;
  }

  doubtOf(pass: string): JoinDoubt | null {
    return this.doubts.get(pass) ?? null;
  }

  pointsBetween(fromMs: number, toMs: number): Point[] {
    return [...this.points.values()].filter((one) => one.timeMs >= fromMs && one.timeMs <= toMs);
  }

  isKey(train: string | null): boolean {
    return train !== null && this.consists.get(train)?.key === true;
  }

  private named(pass: Pass): Pass {
    const consist = pass.train === null ? undefined : this.consists.get(pass.train);
    return consist === undefined ? pass : { ...pass, ...namedVehicles(pass, consist) };
  }

  private place(pass: Pass): Point {
    const { journey, leg, doubt } = this.journeys.place(pass, level(pass, this.biases));
    this.placed.push(pass);
    if (doubt !== null) this.doubts.set(pass.id, doubt);
    const point = pointOf(this.corridor, journey, leg);
    this.points.set(pass.id, point);
    return point;
  }

  private forget(): void {
    this.journeys.forget(this.latestMs - KEPT_MS);
    const settledMs = this.latestMs - LATENESS_MS;
    let old = 0;
    while (old < this.placed.length && (this.placed[old]!.endedMs < settledMs || this.placed.length - old > MOST_PLACED)) old++;
    if (old > 0) this.placed.splice(0, old);
    while (this.points.size > MOST_POINTS) this.points.delete(this.points.keys().next().value as string);
    while (this.doubts.size > MOST_PLACED) this.doubts.delete(this.doubts.keys().next().value as string);
  }
}

function pointOf(corridor: string, journey: Journey, leg: Leg): Point {
  const { pass } = leg;
  return {
    pass: pass.id,
    corridor,
    journey: journey.id,
    train: journey.train,
    site: pass.site,
    track: pass.track,
    timeMs: pass.endedMs,
    direction: leg.direction,
    axles: pass.axles,
    joined: leg.join !== null,
  };
}
