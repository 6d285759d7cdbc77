import { type Journey, type Leg, travelSide } from "../../journey/journey.ts";
import type { Railroad } from "../../line/railroad.ts";
import type { Board } from "../board/board.ts";
import type { Row } from "../board/row.ts";
import type { StripLeg } from "./strip-shape.ts";

/** Legs in the strip: the last sites. */
export const STRIP_LEGS = 3;

/** A warned bearing of the train: where it was on each pass, and on which pass its side was told. */
export interface Warned {
  row: Row;
  pass: string;
  marks: readonly { pass: string; axle: number }[];
}

/** The warnings of a journey, ready to be marked. */
export function warnedOf(board: Board, journey: string): Warned[] {
  const found: Warned[] = [];
  for (const one of board.all()) {
    const { last } = one;
    if (last.journey !== journey || last.state === "withdrawn") continue;
    const marks = last.evidence.flatMap(({ pass, axle }) => (axle === null ? [] : [{ pass, axle }]));
    found.push({ row: one.asRow(), pass: last.pass, marks });
  }
  return found;
}

/** The train as a strip of vehicles with all its bearings at its last sites, newest first; sides are those of travel. */
export function stripOf(railroad: Railroad, journey: Journey, warned: readonly Warned[]): StripLeg[] {
  return journey.legs
    .slice(-STRIP_LEGS)
    .reverse()
    .map((leg) => stripLeg(railroad, journey, leg, warned));
}

function stripLeg(railroad: Railroad, journey: Journey, leg: Leg, warned: readonly Warned[]): StripLeg {
  const { pass, levels } = leg;
  const leftRail = travelSide(leg.direction, 0) === 0 ? 0 : 1;
  const rails = [leftRail, 1 - leftRail] as [0 | 1, 0 | 1];
  const marked = warned.flatMap((one) => {
    const mark = one.marks.find((at) => at.pass === pass.id);
    const { id, level, heat } = one.row;
    return mark === undefined ? [] : [{ axle: mark.axle, side: sideOn(journey, leg, one), warning: id, level, heat }];
  });
  return {
    pass: pass.id,
    site: pass.site,
    name: railroad.sites.get(pass.site)?.name ?? pass.site,
    timeMs: pass.endedMs,
    flipped: leg.flipped,
    directionDoubted: leg.directionDoubted,
    medianF: [finite(levels.medianF[rails[0]]), finite(levels.medianF[rails[1]])],
    vehicles: pass.vehicles.map(({ kind, ordinalOfKind, id, firstRow, axles, confidence }) => ({
      kind,
      ordinalOfKind,
      id,
      firstRow,
      axles,
      confidence,
    })),
    axles: pass.axles,
    left: columnOf(pass.bearingRiseF[rails[0]]),
    right: columnOf(pass.bearingRiseF[rails[1]]),
    marked,
  };
}

/** A train that ran the other way round between the pass that told the side and this one swaps its sides. */
function sideOn(journey: Journey, leg: Leg, { row, pass }: Warned): "left" | "right" {
  const told = journey.legs.find((one) => one.pass.id === pass);
  if (told === undefined || told.flipped === leg.flipped) return row.side;
  return row.side === "left" ? "right" : "left";
}

function columnOf(column: Float32Array): (number | null)[] {
  return Array.from(column, finite);
}

export function finite(value: number): number | null {
  return Number.isFinite(value) ? Math.round(value * 10) / 10 : null;
}
