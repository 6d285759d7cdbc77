import type { Levels } from "../bearing/levels.ts";
import type { Direction } from "../line/railroad.ts";
import type { Pass } from "../pass/pass.ts";
import type { Alignment } from "./alignment.ts";
import type { Arrival, Travel } from "./arrival.ts";
import type { OpenJourney } from "./open-journey.ts";
import { sisterNats } from "./residuals.ts";
import { type Effort, patternOf } from "./roster.ts";
import type { Route } from "./route.ts";
import { compareTags, tagNats } from "./same-tags.ts";
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
/** A pass that could not be told apart from this journey was heard at a site it would have to have passed unheard. */
const CONTESTED_NATS = -6;
/** Below it, no one need hear that a train could have been another. */
export const LEAST_SAID_NATS = -12;

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
  const tags = compareTags(open, pass, alignment, flipped);
  const warmthAsked: WarmthQuestion = {
    roster: open.roster,
    last: open.last,
    usual: open.usual,
    lastDirectionFlipped: route.kind === "begun-wrong",
    levels,
    axles: pass.axles,
    positionOfRow: alignment.positionOfRow,
    flipped,
    falling: route.direction === "falling",
    hours: Math.max(0, travel.hours),
  };
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
    tagNats(tags);
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
    tagsAgree: tags.agree,
    tagsDiffer: tags.differ,
    warmth,
    warmthAsked,
    distinctNats,
    plain,
    score: plain + sister,
    standing: plain,
  };
}
