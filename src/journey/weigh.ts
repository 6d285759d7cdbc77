import type { Levels } from "../bearing/levels.ts";
import { type Direction, opposite } from "../line/railroad.ts";
import type { Pass } from "../pass/pass.ts";
import type { Alignment } from "./alignment.ts";
import type { Expected, ExpectedAt } from "./expected.ts";
import type { Fingerprint } from "./fingerprint.ts";
import type { OpenJourney } from "./open-journey.ts";
import { type Effort, MOST_MEANED, patternOf } from "./roster.ts";
import type { Route } from "./route.ts";
import type { JoinSettings } from "./settings.ts";
import { compareWarmth, MOST_WARMTH_NATS, NO_WARMTH, type Warmth, type WarmthQuestion } from "./warmth.ts";

/*
 * Log-odds that a pass is the same train as a journey, against a train never heard before. Natural logarithms; all of
 * them assumptions of ours, chosen so that a mixed train joins on its pattern alone and a look-alike on nothing less
 * than what sets it apart.
 */

/** An open journey that may arrive here now is far likelier to than a train that begins on the way. */
const EXPECTED_NATS = 4.5;
const UNHEARD_SITE_NATS = -4;
const WRONG_TRACK_NATS = -6;
const WRONG_DIRECTION_NATS = -6;
const WRONG_DIRECTION_ALIKE_NATS = -12;
const BEGUN_WRONG_NATS = -5;
/** Of all trains heard going one way in the last hours, so few come back as they were. */
const TURNED_BACK_NATS = -7;
/** Of trains of cars all alike another one of the same make comes the other way more often than this one comes back. */
const TURNED_BACK_ALIKE_NATS = -16;
/** Last car first, its locomotives at the other end, hardly any other comes. */
const RAN_AROUND_ALIKE_NATS = -11;
const TURNED_DISTINCT_NATS = 15;
const TOLD_APART_NATS = 20;
const NEARLY_WHOLE_SHARE = 0.8;
/** Reversed order without a change of direction: only where a train has to change ends at a junction. */
const CHANGED_ENDS_NATS = -8;
const SAME_ID_NATS = 8;
const OTHER_ID_NATS = -8;
const TAG_AGREES_NATS = 5;
const TAG_DIFFERS_NATS = -3;
const MOST_TAG_NATS = 20;
const TOO_FAST_NATS = -8;
/** A pass that could not be told apart from this journey was heard at a site it would have to have passed unheard. */
const CONTESTED_NATS = -6;
/** Mean speed is about two thirds of the fastest, and scatters by this much (standard deviation of the logarithm). */
const USUAL_SLOWNESS = 1.5;
const SPEED_SCATTER = 0.45;
/** A train held on the way, and what each further hour costs. */
const HELD_NATS = -2.5;
const HELD_HOUR_NATS = -0.25;
/** Below it, no one need hear that a train could have been another. */
export const LEAST_SAID_NATS = -12;
/** Residuals of neighbouring spacings go together, so they count as half as many. */
const RESIDUAL_TEMPER = 0.5;
const MOST_SISTER_NATS = 16;
/** Cars of one train in a row are not quite as alike as cars at the same place of two trains: so much of their difference is sure. */
const SURE_OF_SISTERS = 0.97;
/** Rounding and smooth running cannot make residuals smaller than this, square inches. */
const LEAST_SQUARE_INCHES = 0.05;

const HOUR_MS = 3_600_000;

/** One way in which a pass could be the next leg of a journey. */
export interface Candidate {
  open: OpenJourney;
  route: Route;
  alignment: Alignment;
  /** Against the roster. */
  flipped: boolean;
  direction: Direction;
  directionDoubted: boolean;
  hours: number;
  tooFast: boolean;
  wrongTrack: boolean;
  contested: boolean;
  train: "same" | "different" | "unknown";
  tagsAgree: number;
  tagsDiffer: number;
  warmth: Warmth;
  warmthAsked: WarmthQuestion;
  /** Nats from the pattern being hard to meet in another train. */
  distinctNats: number;
  /** Log-odds without what the residuals say. */
  plain: number;
  /** Log-odds against a train never heard before. */
  score: number;
  /** Comparable between candidates of one pass. */
  standing: number;
}

/**
 * How far the aligning may go: what agrees as it stands, miscounted axles apart; also where vehicles came or went in one
 * place, and in several where the train is told apart; in several places whatever the train.
 */
export type Depth = "linear" | "thorough" | "mosaic";

/** A way on which a journey may have come here in that time, its cars being such as could be those of the pass. */
export interface Arrival {
  open: OpenJourney;
  route: Route;
  travel: Travel;
}

/** Adds the arrivals of one journey by the routes it has to the site of the pass; `print` is that of the pass. */
export function arrivalsOf(
  { open, place, routes }: Expected,
  board: ExpectedAt,
  pass: Pass,
  print: Fingerprint,
  settings: JoinSettings,
  out: Arrival[],
): void {
  const lastBegunMs = board.lastBegunMs(place);
  const lastEndedMs = board.lastEndedMs(place);
  let could: boolean | null = null;
  for (let i = 0; i < routes.length; i++) {
    const route = routes[i]!;
    const hours = travelHours(lastBegunMs, lastEndedMs, pass, route, settings);
    if (Number.isNaN(hours)) continue;
    could ??= board.couldMatch(place, print) && open.journey.legs.length < settings.mostLegs;
    if (!could) return;
    out.push({ open, route, travel: travelOf(route, hours, settings) });
  }
}

/** Candidates of one arrival: none, one, or one for each order of its axles. */
export function candidatesOf({ open, route, travel }: Arrival, pass: Pass, levels: Levels, most: Depth, out: Candidate[]): void {
  const agrees = pass.direction === route.direction;
  const order = open.last.flipped;
  if (route.kind === "ahead") {
    const against = isDistinct(pass) ? WRONG_DIRECTION_NATS : WRONG_DIRECTION_ALIKE_NATS;
    const straight = weigh(open, pass, levels, route, travel, order, most, agrees ? 0 : against);
    if (straight !== null) {
      if (agrees || isNearlyWhole(straight, pass)) out.push(straight);
    } else if (agrees && isDistinct(pass)) {
      // Cars all alike look the same from both ends, so a train of them is never taken for one that changed ends.
      push(out, weigh(open, pass, levels, route, travel, !order, "run-around", CHANGED_ENDS_NATS));
    }
  } else if (agrees && route.kind === "begun-wrong") {
    push(out, weigh(open, pass, levels, route, travel, order, most, BEGUN_WRONG_NATS));
  } else if (agrees) {
    turnedBack(open, pass, levels, route, travel, most, out);
  }
}

/** A train that came back, on a wye in the order it went, or run around last car first. */
function turnedBack(open: OpenJourney, pass: Pass, levels: Levels, route: Route, travel: Travel, most: Depth, out: Candidate[]): void {
  const order = open.last.flipped;
  // Trains of cars all alike come back by the dozen: with cars set out besides, none could be told from another.
  const distinct = isDistinct(pass);
  const nats = distinct ? TURNED_BACK_NATS : TURNED_BACK_ALIKE_NATS;
  push(out, weigh(open, pass, levels, route, travel, order, distinct ? most : "linear", nats));
  const around = weigh(open, pass, levels, route, travel, !order, "run-around", distinct ? nats : RAN_AROUND_ALIKE_NATS);
  if (around !== null) out.push(around);
  else if (distinct) push(out, weigh(open, pass, levels, route, travel, !order, most, nats));
}

function isDistinct(pass: Pass): boolean {
  return patternOf(pass).print.distinctNats >= TURNED_DISTINCT_NATS;
}

/** Against what the site says of the direction only a train that came nearly as it went is believed; of cars all alike, as it went. */
function isNearlyWhole({ alignment, open }: Candidate, pass: Pass): boolean {
  if (!isDistinct(pass)) return alignment.dropped + alignment.added === 0;
  return alignment.matched >= NEARLY_WHOLE_SHARE * Math.max(pass.axles, open.roster.axles.length);
}

function push(out: Candidate[], candidate: Candidate | null): void {
  if (candidate !== null) out.push(candidate);
}

export interface Travel {
  hours: number;
  nats: number;
  tooFast: boolean;
}

/**
 * Hours from the last leg to the pass, head to head; of a train that turned back, from when its tail was past. NaN: no train
 * does it in that time.
 */
function travelHours(lastBegunMs: number, lastEndedMs: number, pass: Pass, route: Route, settings: JoinSettings): number {
  if ((pass.endedMs - lastEndedMs) / HOUR_MS > route.longestHours) return Number.NaN;
  const turned = isTurned(route);
  const hours = (pass.begunMs - (turned ? lastEndedMs : lastBegunMs)) / HOUR_MS;
  const fastest = fastestOf(route, settings);
  if (hours < fastest && (turned || hours < fastest - settings.clockSlackMinutes / 60)) return Number.NaN;
  return hours;
}

function travelOf(route: Route, hours: number, settings: JoinSettings): Travel {
  const tooFast = hours < fastestOf(route, settings);
  if (isTurned(route)) return { hours, nats: HELD_HOUR_NATS * hours, tooFast };
  const z = Math.log(Math.max(hours, 0.01) / (USUAL_SLOWNESS * route.fastestHours)) / SPEED_SCATTER;
  const nats = Math.max(-0.5 * z * z, HELD_NATS + HELD_HOUR_NATS * Math.max(0, hours));
  return { hours, nats: tooFast ? TOO_FAST_NATS : nats, tooFast };
}

function isTurned({ kind }: Route): boolean {
  return kind === "back" || kind === "behind";
}

function fastestOf(route: Route, settings: JoinSettings): number {
  return route.fastestHours * settings.fastestShare - settings.clockMinutes / 60;
}

function effortOf(depth: Depth | "run-around", isTold: boolean, { kind }: Route): Effort {
  if (depth === "linear" || depth === "run-around") return depth;
  if (!isTold && (depth === "thorough" || kind !== "ahead")) return "one-run";
  return kind === "ahead" ? "thorough" : "few-runs";
}

function weigh(
  open: OpenJourney,
  pass: Pass,
  levels: Levels,
  route: Route,
  travel: Travel,
  flipped: boolean,
  depth: Depth | "run-around",
  priorNats: number,
): Candidate | null {
  const train = pass.train === null || open.journey.train === null ? "unknown" : pass.train === open.journey.train ? "same" : "different";
  const print = patternOf(pass).print;
  // A mosaic of pieces can be laid from any train of like cars: it says something only of a train that is told apart otherwise.
  const isTold = train === "same" || print.distinctNats >= TOLD_APART_NATS;
  const alignment = open.roster.align(pass, flipped, effortOf(depth, isTold, route));
  if (alignment === null) return null;
  const distinctNats = (Math.min(print.distinctNats, open.roster.print.distinctNats) * alignment.matched) / pass.axles;
  const wrongTrack = route.tracks !== null && !route.tracks.includes(pass.track);
  const contested = open.contested.some((other) => route.over.includes(other.site));
  const { agree, differ } = compareTags(open, pass, alignment, flipped);
  const warmthAsked: WarmthQuestion = {
    roster: open.roster,
    last: open.last,
    lastDirectionFlipped: route.kind === "begun-wrong",
    levels,
    axles: pass.axles,
    positionOfRow: alignment.positionOfRow,
    flipped,
    falling: route.direction === "falling",
    hours: Math.max(0, travel.hours),
  };
  const tagNats = Math.max(-MOST_TAG_NATS, Math.min(MOST_TAG_NATS, TAG_AGREES_NATS * agree + TAG_DIFFERS_NATS * differ));
  const unwarmed =
    EXPECTED_NATS +
    distinctNats -
    alignment.editNats +
    priorNats +
    travel.nats +
    UNHEARD_SITE_NATS * route.over.length +
    (wrongTrack ? WRONG_TRACK_NATS : 0) +
    (contested ? CONTESTED_NATS : 0) +
    (train === "same" ? SAME_ID_NATS : train === "different" ? OTHER_ID_NATS : 0) +
    tagNats;
  const sister = sisterNats(print.sisterSquareInches, alignment, open.roster.legs);
  // Where the most that warmth can say would not make it worth a word, it is not asked.
  const warmth = unwarmed + sister + MOST_WARMTH_NATS < LEAST_SAID_NATS ? NO_WARMTH : compareWarmth(warmthAsked);
  const plain = unwarmed + warmth.nats;
  return {
    open,
    route,
    alignment,
    flipped,
    direction: route.direction,
    directionDoubted: pass.direction !== route.direction,
    hours: travel.hours,
    tooFast: travel.tooFast,
    wrongTrack,
    contested,
    train,
    tagsAgree: agree,
    tagsDiffer: differ,
    warmth,
    warmthAsked,
    distinctNats,
    plain,
    score: plain + sister,
    standing: plain,
  };
}

/**
 * Cars of one make differ by their own small tolerances. Where the spacings of this pass fit the journey better than
 * its own cars fit each other, it is not merely a train of the same make. Never against: a rough site proves nothing.
 */
function sisterNats(sisterSquareInches: number, alignment: Alignment, legs: number): number {
  const square = noiseSquare(alignment, legs);
  const nats =
    0.5 *
    RESIDUAL_TEMPER *
    alignment.compared *
    Math.log(Math.max(LEAST_SQUARE_INCHES, (SURE_OF_SISTERS * sisterSquareInches) / 2) / square);
  return Math.max(0, Math.min(MOST_SISTER_NATS, nats));
}

/** Square noise of one spacing at one site, if it is the same train: a roster's own noise is the smaller the more legs it is the mean of. */
function noiseSquare(alignment: Alignment, legs: number): number {
  return Math.max(LEAST_SQUARE_INCHES, alignment.squareInches / (1 + 1 / Math.min(legs, MOST_MEANED)));
}

/** A tag may be read at any axle of its vehicle, so it is looked for within a vehicle's length of axles. */
const TAG_REACH = 4;

function compareTags(open: OpenJourney, pass: Pass, alignment: Alignment, flipped: boolean): { agree: number; differ: number } {
  const counts = { agree: 0, differ: 0 };
  if (pass.tags.size === 0 || open.roster.tags.size === 0) return counts;
  for (const [row, tag] of pass.tags) {
    const ordered = flipped ? pass.axles - 1 - row : row;
    const position = alignment.positionOfRow === null ? ordered : (alignment.positionOfRow[ordered] ?? -1);
    if (position < 0) continue;
    let differs = false;
    let agrees = false;
    for (let k = -TAG_REACH; k <= TAG_REACH && !agrees; k++) {
      const number = open.roster.axles[position + k];
      const known = number === undefined ? undefined : open.roster.tags.get(number);
      if (known === tag) agrees = true;
      else if (known !== undefined && k === 0) differs = true;
    }
    if (agrees) counts.agree++;
    else if (differs) counts.differ++;
  }
  return counts;
}

/** Trains keep their order on a single track; on several they overtake now and then. */
const OVERTAKES_SINGLE_NATS = -3;
const OVERTAKES_NATS = -1;

/**
 * Makes the candidates of one pass comparable. Between trains that look alike the residuals decide: by how much the
 * spacings of one fit better than those of the other, whatever the noise of the site (its profile likelihood).
 */
export function compareCandidates(candidates: readonly Candidate[]): void {
  let least = Number.MAX_VALUE;
  for (const one of candidates) {
    least = Math.min(least, noiseSquare(one.alignment, one.open.roster.legs));
  }
  for (const one of candidates) {
    const square = noiseSquare(one.alignment, one.open.roster.legs);
    one.standing = one.plain - 0.5 * RESIDUAL_TEMPER * one.alignment.compared * Math.log(square / least);
    if (one.route.kind !== "ahead") continue;
    for (const other of candidates) {
      if (other.open === one.open || other.route.kind !== "ahead" || !sameStart(one, other)) continue;
      if (other.open.last.pass.begunMs < one.open.last.pass.begunMs) {
        one.standing += one.route.single ? OVERTAKES_SINGLE_NATS : OVERTAKES_NATS;
      }
    }
  }
}

function sameStart(a: Candidate, b: Candidate): boolean {
  return a.open.last.pass.site === b.open.last.pass.site && a.open.last.direction === b.open.last.direction;
}

export function directionBefore(candidate: Candidate): Direction {
  const last = candidate.open.last.direction;
  return candidate.route.kind === "begun-wrong" ? opposite(last) : last;
}
