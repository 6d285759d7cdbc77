import type { Levels } from "../bearing/levels.ts";
import { type LineBook, lineBookOf } from "../line/line-book.ts";
import type { Railroad } from "../line/railroad.ts";
import { comparePasses, type Pass } from "../pass/pass.ts";
import { type Arrival, arrivalsOf, isDue, mayBeBack } from "./arrival.ts";
import { doubtOf, evidenceOf, maybeBackOf, unrecognizedOf } from "./evidence.ts";
import { ExpectedAt } from "./expected.ts";
import type { JoinDoubt, Journey, Leg } from "./journey.ts";
import { OpenJourney } from "./open-journey.ts";
import { Origin } from "./origin.ts";
import { firstRoster, patternOf } from "./roster.ts";
import { RouteBook } from "./route.ts";
import { type JoinSettings, usualJoinSettings } from "./settings.ts";
import { slideRuns } from "./slide.ts";
import { byStanding, compareCandidates, isCertain, rivalOf } from "./standing.ts";
import { type Candidate, candidatesOf, type Depth, LEAST_SAID_NATS } from "./weigh.ts";

/** Nats by which one order of the axles must beat the other (assumption): a wrong order gives every bearing another's name. */
const LEAST_ORDER_MARGIN = 4;
/** Bearings that may change implausibly: scanners glitch. Over the second share the join is refused. */
const IMPLAUSIBLE_SHARE = 0.02;
const REFUSED_SHARE = 0.2;
const LEAST_BEARINGS = 40;

export interface Placing {
  journey: Journey;
  leg: Leg;
  doubt: JoinDoubt | null;
}

interface Placed {
  pass: Pass;
  open: OpenJourney;
  /** Journeys this pass could have been but did not join. */
  contests: readonly OpenJourney[];
}

/**
 * The journeys of one corridor. Passes are placed in the order of `comparePasses`; one that comes late is placed after
 * `rollBack` to it, and what was taken back is placed again. The state is a function of the set of passes placed.
 */
export class Journeys {
  /** Journeys dropped because too many were open. */
  dropped = 0;
  private readonly settings: JoinSettings;
  private readonly lines: LineBook;
  /** By the state of the railroad that they are of; the one in use is that of the pass placed last. */
  private readonly routeBooks = new Map<Railroad, RouteBook>();
  private routes: RouteBook;
  private readonly open = new Set<OpenJourney>();
  private readonly expected = new ExpectedAt();
  private readonly byPass = new Map<string, OpenJourney>();
  private placed: Placed[] = [];
  /** No open journey was last heard before: spares looking through all of them at every pass. */
  private unheardSinceMs = Number.NEGATIVE_INFINITY;

  constructor(railroad: Railroad, settings: JoinSettings = usualJoinSettings) {
    this.settings = settings;
    this.lines = lineBookOf(railroad);
    this.routes = this.routesOf(this.lines.states[0]!);
  }

  /** Open journeys, in no particular order. */
  *[Symbol.iterator](): IterableIterator<Journey> {
    for (const open of this.open) yield open.journey;
  }

  get size(): number {
    return this.open.size;
  }

  /** The journey that a pass is a leg of, and which leg. */
  journeyOf(passId: string): { journey: Journey; leg: number } | null {
    const open = this.byPass.get(passId);
    if (open === undefined) return null;
    const leg = open.journey.legs.findIndex((one) => one.pass.id === passId);
    return { journey: open.journey, leg };
  }

  /** Joins a pass to the journey it belongs to, or begins one with it. It must sort after every pass placed before. */
  place(pass: Pass, levels: Levels): Placing {
    this.turnTo(this.lines.of(pass.site, pass.endedMs));
    // What a train never heard before explains better is no candidate, though it may be worth saying.
    const looked = this.candidatesFor(pass, levels);
    const candidates = looked.filter((one) => one.score > 0);
    compareCandidates(candidates);
    candidates.sort(byStanding);
    const best = candidates[0];
    if (best === undefined) {
      const said = looked.filter((one) => one.score > LEAST_SAID_NATS).sort(byStanding);
      return this.begin(pass, levels, said.length > 0 ? doubtOf("weak", pass.id, said) : this.unrecognized(pass), []);
    }
    const { rival, leadNats } = rivalOf(best, candidates);
    const margin = Math.min(best.score, leadNats);
    const kind = this.refusal(best, rival, candidates, margin);
    if (kind !== null) {
      const near = candidates.filter((one) => best.standing - one.standing < this.settings.leastMargin);
      return this.begin(pass, levels, doubtOf(kind, pass.id, near), near);
    }
    return this.join(best, rival, margin, pass, levels);
  }

  /** Where trains are expected follows from the state of the railroad in force when a pass comes, and so do its miles. */
  private turnTo(railroad: Railroad): void {
    const routes = this.routesOf(railroad);
    if (routes === this.routes) return;
    this.routes = routes;
    for (const open of this.open) this.settle(open, () => open.turnTo(routes));
  }

  private routesOf(railroad: Railroad): RouteBook {
    let routes = this.routeBooks.get(railroad);
    if (routes === undefined) {
      routes = new RouteBook(this.lines, railroad, this.settings);
      this.routeBooks.set(railroad, routes);
    }
    return routes;
  }

  /** First what agrees as it stands; trains that would have to have changed are laid beside each other only where that leaves a doubt. */
  private candidatesFor(pass: Pass, levels: Levels): Candidate[] {
    const arrivals = this.arrivals(pass);
    const quick = candidatesAmong(arrivals, pass, levels, "linear");
    if (quick.some(isCertain)) return quick;
    const changed = candidatesAmong(arrivals, pass, levels, "thorough");
    if (changed.some((one) => one.score >= this.settings.leastScore)) return changed;
    return candidatesAmong(arrivals, pass, levels, "mosaic");
  }

  /**
   * Trains due here by now from the site before, of which nothing was recognized: one that left or took on most of its cars is
   * among them. Where none was, trains that may have come back.
   */
  private unrecognized(pass: Pass): JoinDoubt | null {
    const arrivals = this.arrivals(pass);
    const due = arrivals.filter(isDue);
    if (due.length > 0) return unrecognizedOf(pass.id, idsOf(due));
    const back = arrivals.filter((one) => mayBeBack(one, pass));
    return back.length > 0 ? maybeBackOf(pass.id, idsOf(back)) : null;
  }

  private arrivals(pass: Pass): Arrival[] {
    const arrivals: Arrival[] = [];
    const expected = this.expected.at(pass.site);
    if (expected === null) return arrivals;
    const { print } = patternOf(pass);
    for (let i = 0; i < expected.length; i++) {
      arrivalsOf(expected[i]!, this.expected, pass, print, this.settings, arrivals);
    }
    return arrivals;
  }

  /** Why the best candidate is not taken; null when it is. */
  private refusal(best: Candidate, rival: Candidate | null, candidates: readonly Candidate[], margin: number): JoinDoubt["kind"] | null {
    if (best.score < this.settings.leastScore) return "weak";
    if (rival !== null && margin < this.settings.leastMargin) return "ambiguous";
    for (const other of candidates) {
      const otherOrder = other.open === best.open && other !== best;
      if (otherOrder && best.standing - other.standing < LEAST_ORDER_MARGIN) return "ambiguous";
    }
    const { implausible, bearings } = best.warmth;
    if (bearings >= LEAST_BEARINGS && implausible > REFUSED_SHARE * bearings) return "implausible-heat";
    return null;
  }

  private begin(pass: Pass, levels: Levels, doubt: JoinDoubt | null, near: readonly Candidate[]): Placing {
    const open = new OpenJourney(pass, this.routes, new Origin(near));
    const { roster, rosterOfRow } = firstRoster(pass);
    const leg: Leg = {
      pass,
      miles: 0,
      direction: pass.direction,
      directionDoubted: false,
      flipped: false,
      rosterOfRow,
      join: null,
      levels,
      packed: null,
    };
    this.open.add(open);
    const contests = [...new Set(near.map((one) => one.open))];
    for (const other of contests) other.contested.push({ id: pass.id, site: pass.site });
    this.settle(open, () => open.add(leg, roster, false));
    this.note(pass, open, contests);
    this.bound();
    return { journey: open.journey, leg, doubt };
  }

  private join(best: Candidate, rival: Candidate | null, margin: number, pass: Pass, levels: Levels): Placing {
    const { open } = best;
    const { implausible, bearings } = best.warmth;
    const implausibleHeat = bearings >= LEAST_BEARINGS && implausible > IMPLAUSIBLE_SHARE * bearings;
    const { alignment, told } = slideRuns(best.alignment, best.warmthAsked, open.roster.ordered(pass, best.flipped));
    const { roster, rosterOfRow } = open.roster.after(pass, alignment, best.flipped);
    const leg: Leg = {
      pass,
      miles: open.last.miles + best.route.miles,
      direction: best.direction,
      directionDoubted: best.directionDoubted,
      flipped: best.flipped,
      rosterOfRow,
      join: evidenceOf(best, rival, margin, implausibleHeat, told),
      levels,
      packed: null,
    };
    this.settle(open, () => open.add(leg, roster, best.route.kind === "begun-wrong"));
    this.note(pass, open, []);
    return { journey: open.journey, leg, doubt: null };
  }

  private note(pass: Pass, open: OpenJourney, contests: readonly OpenJourney[]): void {
    this.byPass.set(pass.id, open);
    this.placed.push({ pass, open, contests });
  }

  /** Takes back every leg whose pass sorts after `key`; returns their passes in order, to be placed again after it. */
  rollBack(key: Pass): Pass[] {
    let keep = this.placed.length;
    while (keep > 0 && comparePasses(this.placed[keep - 1]!.pass, key) > 0) keep--;
    const taken = this.placed.splice(keep);
    for (let k = taken.length - 1; k >= 0; k--) this.takeBack(taken[k]!);
    return taken.map((one) => one.pass);
  }

  private takeBack({ pass, open, contests }: Placed): void {
    this.byPass.delete(pass.id);
    for (const other of contests) if (other.contested.at(-1)?.id === pass.id) other.contested.pop();
    this.settle(open, () => {
      if (!open.takeBack()) this.open.delete(open);
    });
  }

  /** A leg that no late pass can change any more, in the order of placing: what is needed only to go back beyond it is let go of. */
  settled(leg: Leg): void {
    this.byPass.get(leg.pass.id)?.settle(leg);
    patternOf(leg.pass).reversed = null;
    this.letGo(({ pass }) => comparePasses(pass, leg.pass) <= 0);
  }

  /** Ends journeys whose last pass ended before; passes that old can no longer be taken back. */
  forget(beforeMs: number): void {
    if (this.unheardSinceMs < beforeMs) {
      this.unheardSinceMs = Number.POSITIVE_INFINITY;
      for (const open of this.open) {
        const { endedMs } = open.last.pass;
        if (endedMs < beforeMs) this.drop(open);
        else this.unheardSinceMs = Math.min(this.unheardSinceMs, endedMs);
      }
    }
    this.letGo(({ pass }) => pass.endedMs < beforeMs);
  }

  /** Of the passes that could be taken back, the first ones no longer can. A pass noted here is held whole, whatever its leg lets go of. */
  private letGo(isOld: (placed: Placed) => boolean): void {
    let old = 0;
    while (old < this.placed.length && isOld(this.placed[old]!)) old++;
    if (old > 0) this.placed.splice(0, old);
  }

  private bound(): void {
    if (this.open.size <= this.settings.mostOpen) return;
    let oldest: OpenJourney | null = null;
    for (const open of this.open) {
      if (oldest === null || comparePasses(open.last.pass, oldest.last.pass) < 0) oldest = open;
    }
    if (oldest === null) return;
    this.drop(oldest);
    this.placed = this.placed.filter((one) => one.open !== oldest);
    this.dropped++;
  }

  private drop(open: OpenJourney): void {
    this.expected.remove(open);
    this.open.delete(open);
    for (const leg of open.journey.legs) this.byPass.delete(leg.pass.id);
  }

  /** Changes a journey, and where it is expected with it. */
  private settle(open: OpenJourney, change: () => void): void {
    this.expected.remove(open);
    change();
    if (!this.open.has(open)) return;
    this.unheardSinceMs = Math.min(this.unheardSinceMs, open.last.pass.endedMs);
    this.expected.add(open);
  }
}

function candidatesAmong(arrivals: readonly Arrival[], pass: Pass, levels: Levels, most: Depth): Candidate[] {
  const candidates: Candidate[] = [];
  for (const arrival of arrivals) candidatesOf(arrival, pass, levels, most, candidates);
  return candidates;
}

function idsOf(arrivals: readonly Arrival[]): string[] {
  return arrivals.map(({ open }) => open.journey.id);
}
