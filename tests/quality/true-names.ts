import { heatKind } from "../../src/bearing/heat.ts";
import { trackOf } from "../../src/bearing/history.ts";
import { outlook } from "../../src/bearing/outlook.ts";
import { SCREENED_MAX, screen } from "../../src/bearing/screen.ts";
import type { Outlook } from "../../src/bearing/track.ts";
import { type Journey, type Leg, railOfSide, rowOfRoster } from "../../src/journey/journey.ts";
import type { Railroad } from "../../src/line/railroad.ts";
import { hazardWeight, sitesAhead, waysAhead } from "../../src/warning/ahead.ts";
import { type ChancesAhead, onItsWay } from "../../src/warning/chances.ts";
import { limitExcessF } from "../../src/warning/look.ts";
import type { RuleBook } from "../../src/warning/rule-book.ts";
import { limitsOf } from "../../src/warning/rule-set.ts";
import { bearingKey, type TrainCase } from "./train-case.ts";
import { warnFactor } from "./warn-factor.ts";

const screened = new Int32Array(SCREENED_MAX);

/**
 * The engine's own decision on a journey whose joins and names are the true ones: what it would have said with nothing lost
 * in the joining. Gives the factor of every bearing that passes the screen, by index of the pass in the train.
 */
export function trueNameFactors(
  train: TrainCase,
  railroad: Railroad,
  book: RuleBook,
  visit: (passIndex: number, key: number, factor: number) => void,
): void {
  const journey: Journey = { id: train.name, train: null, rosterAxles: 0, legs: [] };
  const followed = new Set<number>();
  const told: Told = new Map();
  train.passes.forEach(({ truth, pass, levels, axleOfRow }, index) => {
    if (pass === null || levels === null || axleOfRow.length !== pass.axles) return;
    const { miles, direction, flipped } = truth;
    const leg: Leg = { pass, miles, direction, directionDoubted: false, flipped, rosterOfRow: axleOfRow, join: null, levels };
    journey.legs.push(leg);
    const now = new Set(followed);
    const count = screen(journey, journey.legs.length - 1, screened);
    for (let i = 0; i < count; i++) {
      const rail = (screened[i]! & 1) as 0 | 1;
      const axle = axleOfRow[screened[i]! >> 1]!;
      if (axle >= 0) now.add(bearingKey(axle, railOfSide(leg, rail)));
    }
    for (const key of now) {
      const factor = factorOf(journey, key, told, railroad, book);
      if (factor > 0) visit(index, key, factor);
      // As the engine follows whatever it has told of.
      if (factor >= FOLLOWED_FROM) followed.add(key);
    }
  });
}

/** About where the rules' `watch` begins: its chances are a quarter of those of `warn`. */
const FOLLOWED_FROM = 0.25;

/** Chance before the next site but one that the last pass told of a followed bearing; null: that did not measure it. */
type Told = Map<number, number | null>;

function factorOf(journey: Journey, key: number, told: Told, railroad: Railroad, book: RuleBook): number {
  const axle = key >> 1;
  const side = (key & 1) as 0 | 1;
  const at = journey.legs.length - 1;
  const leg = journey.legs[at]!;
  const rail = railOfSide(leg, side);
  if (Number.isNaN(leg.levels.medianF[rail])) return 0;
  const { pass } = leg;
  const rules = book.at(pass.endedMs);
  const track = trackOf(journey, axle, side, at);
  const limits = limitsOf(rules, railroad.sites.get(pass.site)!.kind, false);
  const ways = waysAhead(railroad, leg);
  const seen = outlook(track, limitExcessF(limits, leg, rowOfRoster(leg, axle), rail), sitesAhead(ways, rules));
  const heat = heatKind(journey, at, axle, side, track);
  const readings = track.filter((reading) => !Number.isNaN(reading.riseF)).length;
  return warnFactor(goesBy(seen, key, !Number.isNaN(track.at(-1)!.riseF), told), heat, readings, hazardWeight(ways, rules), rules);
}

/** As decide() has it: a pass that did not measure the bearing brings no news of it. */
function goesBy(seen: Outlook, key: number, measured: boolean, told: Told): ChancesAhead | null {
  const now = onItsWay(seen);
  const before = told.get(key) ?? null;
  told.set(key, measured ? now.chanceNextButOne : null);
  if (measured) return now;
  return before === null ? null : { chanceNext: Math.min(before, now.chanceNext), chanceNextButOne: 0, rising: 0 };
}
