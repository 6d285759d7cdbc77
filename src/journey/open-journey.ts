import { opposite } from "../line/railroad.ts";
import type { Pass } from "../pass/pass.ts";
import type { Expected } from "./expected.ts";
import type { Journey, Leg } from "./journey.ts";
import type { Origin } from "./origin.ts";
import type { Roster } from "./roster.ts";
import type { RouteBook, RoutesBySite } from "./route.ts";
import { UsualExcess } from "./usual-excess.ts";

/** A journey that may still go on, with what is needed to go on and to go back. */
export class OpenJourney {
  readonly journey: Journey;
  /** Where it could be heard next, and how it would come there. */
  routes: RoutesBySite = new Map();
  /** Its entries at these sites. */
  expected: Expected[] = [];
  /** Passes that fitted this journey but joined nothing, oldest first. Not the passes themselves, which nobody else may need by then. */
  readonly contested: Pick<Pass, "id" | "site">[] = [];
  /** What it may be the rest of. */
  readonly origin: Origin;
  /** Roster after each leg, and what its bearings usually are; null where no leg before it can be taken back any more. */
  private readonly rosters: (Roster | null)[] = [];
  private readonly usuals: (UsualExcess | null)[] = [];
  /** Rosters before this one were let go of. */
  private settled = 0;
  private book: RouteBook;

  constructor(pass: Pass, book: RouteBook, origin: Origin) {
    this.journey = { id: `J-${pass.id}`, train: null, rosterAxles: 0, legs: [] };
    this.book = book;
    this.origin = origin;
  }

  get last(): Leg {
    return this.journey.legs[this.journey.legs.length - 1]!;
  }

  get roster(): Roster {
    return this.rosters[this.rosters.length - 1]!;
  }

  /** What its bearings usually are over their side. */
  get usual(): UsualExcess {
    return this.usuals[this.usuals.length - 1] ?? UsualExcess.none;
  }

  /** `begunWrong`: this leg shows that the first leg's site reported the wrong direction. */
  add(leg: Leg, roster: Roster, begunWrong: boolean): void {
    const usual = begunWrong ? this.usual.turned() : this.usual;
    if (begunWrong) this.correctFirst(true);
    this.journey.legs.push(leg);
    this.rosters.push(roster);
    this.usuals.push(usual.after(leg, roster.next));
    this.restate();
  }

  /** Takes the last leg back; false when none is left. */
  takeBack(): boolean {
    this.journey.legs.pop();
    this.rosters.pop();
    this.usuals.pop();
    if (this.journey.legs.length === 0) return false;
    if (this.journey.legs.length === 1) this.correctFirst(false);
    this.restate();
    return true;
  }

  /** Goes on by the routes of another state of the railroad. */
  turnTo(book: RouteBook): void {
    this.book = book;
    this.routes = book.from(this.last, this.journey.legs.length === 1);
  }

  /** A leg, and those before it, can not be taken back any more: nothing will go on from a roster before it. */
  settle(leg: Leg): void {
    const at = this.journey.legs.indexOf(leg);
    for (; this.settled < at; this.settled++) {
      this.rosters[this.settled] = null;
      this.usuals[this.settled] = null;
    }
  }

  private correctFirst(wrong: boolean): void {
    const first = this.journey.legs[0]!;
    first.direction = wrong ? opposite(first.pass.direction) : first.pass.direction;
    first.directionDoubted = wrong;
  }

  private restate(): void {
    this.journey.rosterAxles = this.roster.next;
    this.journey.train = mostHeard(this.journey.legs);
    this.routes = this.book.from(this.last, this.journey.legs.length === 1);
  }
}

/** The train id that most legs gave, the earliest of equals: one site with a wrong list must not rename a train. */
function mostHeard(legs: readonly Leg[]): string | null {
  let best: string | null = null;
  let most = 0;
  for (const { pass } of legs) {
    if (pass.train === null || pass.train === best) continue;
    let heard = 0;
    for (const leg of legs) if (leg.pass.train === pass.train) heard++;
    if (heard > most) {
      best = pass.train;
      most = heard;
    }
  }
  return best;
}
