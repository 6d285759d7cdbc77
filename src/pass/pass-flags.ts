import type { Integrity } from "../feed/record.ts";
import type { Units } from "../line/railroad.ts";
import type { Pass, PassFlag } from "./pass.ts";
import { DOUBLED_BELOW_INCHES } from "./spacing-model.ts";
import { doubtUnits } from "./units-doubt.ts";

/** A train should pass a site with at least 10 mph (one railroad's special instructions [S]). */
export const SLOW_MPH = 10;
/** Longest time between neighbouring axles of a train that did not stop: 80 ft at 1 mph (assumption). */
export const STOPPED_MS = 55_000;
/** Spacings that must be mirrored around a turning point; no train has as many around a place where it did not turn. */
const MIRRORED = 4;
/** Mirrored spacings are measured at a walking pace: rough (assumption). */
const MIRROR_TOLERANCE_INCHES = 4;

/** What the pass knew when it closed, besides its columns. */
export interface Circumstances {
  hadBegin: boolean;
  timedOut: boolean;
  arrived: number;
  repeatDiffers: boolean;
  integrity: readonly Integrity[];
  /** Readings are absolute and the pass had no ambient of its own. */
  noAmbient: boolean;
  units: Units;
}

/** Everything that is not as it should be with a closed pass, in the order of PassFlag. */
export function flagsOf(pass: Pass, given: Circumstances): PassFlag[] {
  const flags: PassFlag[] = [];
  const said = new Set<string>(given.integrity);
  const course = courseOf(pass);
  const add = (flag: PassFlag, holds: boolean) => {
    if (holds) flags.push(flag);
  };
  add("no-begin", !given.hadBegin);
  add("no-end", pass.axlesSaid === null);
  add("timed-out", given.timedOut);
  add("missing-axles", given.arrived < Math.max(pass.axles, pass.axlesSaid ?? 0));
  add("count-mismatch", said.has("count-mismatch") || (pass.axlesSaid !== null && pass.axlesSaid !== pass.axles));
  add("out-of-order", course.backwards);
  add("repeat-differs", given.repeatDiffers);
  add("slow", said.has("slow") || course.slowestMph < SLOW_MPH);
  add("stopped-over-site", said.has("stopped-over-site") || course.longestMs > STOPPED_MS);
  add("reversed-over-site", course.turned);
  add("scanner-left", said.has("scanner-left"));
  add("scanner-right", said.has("scanner-right"));
  add("power", said.has("power"));
  add("no-ambient", given.noAmbient);
  add("units-doubted", doubtUnits(pass, given.units) !== null);
  return flags;
}

interface Course {
  /** Times fall from one axle to a later one. */
  backwards: boolean;
  slowestMph: number;
  longestMs: number;
  turned: boolean;
}

function courseOf(pass: Pass): Course {
  const { ms, gapInches, speedMph, axles } = pass;
  const course: Course = { backwards: false, slowestMph: Number.POSITIVE_INFINITY, longestMs: 0, turned: false };
  let latestMs = Number.NEGATIVE_INFINITY;
  for (let row = 0; row < axles; row++) {
    const at = ms[row]!;
    if (at < latestMs) course.backwards = true;
    if (at >= latestMs) {
      if (row > 0 && ms[row - 1] === latestMs && at - latestMs > course.longestMs) course.longestMs = at - latestMs;
      latestMs = at;
    }
    if (speedMph[row]! < course.slowestMph) course.slowestMph = speedMph[row]!;
    const gap = gapInches[row]!;
    // The axle that turns back over the transducers comes right after itself: no spacing, or hardly any.
    if (row > 0 && !(gap >= DOUBLED_BELOW_INCHES) && !Number.isNaN(at) && mirrored(gapInches, row, axles)) course.turned = true;
  }
  return course;
}

/** Whether the spacings after `row` repeat those before it backwards. */
function mirrored(gapInches: Float32Array, row: number, axles: number): boolean {
  if (row < MIRRORED + 1 || row + MIRRORED >= axles) return false;
  for (let k = 1; k <= MIRRORED; k++) {
    if (!(Math.abs(gapInches[row + k]! - gapInches[row - k]!) <= MIRROR_TOLERANCE_INCHES)) return false;
  }
  return true;
}
