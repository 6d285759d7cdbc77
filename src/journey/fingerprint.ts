/** Spacings sorted into bins of this width; a scale error of 2 % moves a spacing of 60 ft by less than one. */
const BIN_INCHES = 16;
const BINS = 52;
/** A spacing repeats the vehicle before when it is within this of the one 4 (car) or 6 (locomotive) axles before. */
const ALIKE_INCHES = 8;
const CAR_AXLES = 4;
const LOCOMOTIVE_AXLES = 6;
/** Surprises every unit train has (its locomotives, its first car): they do not set it apart from its sisters. */
const USUAL_SURPRISES = 5;
/** What one more surprise is worth (assumption: cars come in about three lengths that are equally common). */
const SURPRISE_NATS = 2.4;
/** Spacings that one change of vehicle, or one miscounted axle, can make look new: they are one surprise. */
const SURPRISE_GAPS = 5;
const MOST_DISTINCT_NATS = 80;
const LEAST_DISTINCT_NATS = 2;

/** What can be told of a spacing pattern without aligning it. */
export interface Fingerprint {
  axles: number;
  lengthInches: number;
  bins: Uint16Array;
  /** How hard it is to meet this pattern in another train, natural logarithm: near 2 for a unit train, up to 80 for mixed freight. */
  distinctNats: number;
  /** Mean square difference of a spacing from the same one a car before, among like cars: what a look-alike train would differ by. */
  sisterSquareInches: number;
}

/** Linear. The result does not depend on which end is the head, up to the locomotives' place. */
export function fingerprint(gapInches: Float32Array): Fingerprint {
  const axles = gapInches.length;
  const bins = new Uint16Array(BINS);
  let lengthInches = 0;
  let surprises = 0;
  let counted = LOCOMOTIVE_AXLES + 1 - SURPRISE_GAPS;
  let squares = 0;
  let alike = 0;
  for (let i = 1; i < axles; i++) {
    const gap = gapInches[i]!;
    if (Number.isNaN(gap)) continue;
    lengthInches += gap;
    const bin = (gap / BIN_INCHES) | 0;
    bins[bin < BINS ? bin : BINS - 1]!++;
    const car = i > CAR_AXLES ? gap - gapInches[i - CAR_AXLES]! : Number.NaN;
    if (car > -ALIKE_INCHES && car < ALIKE_INCHES) {
      squares += car * car;
      alike++;
      continue;
    }
    if (i < counted + SURPRISE_GAPS) continue;
    const locomotive = i > LOCOMOTIVE_AXLES ? gap - gapInches[i - LOCOMOTIVE_AXLES]! : Number.NaN;
    if (locomotive > -ALIKE_INCHES && locomotive < ALIKE_INCHES) continue;
    surprises++;
    counted = i;
  }
  const distinctNats = Math.min(MOST_DISTINCT_NATS, LEAST_DISTINCT_NATS + SURPRISE_NATS * Math.max(0, surprises - USUAL_SURPRISES));
  return { axles, lengthInches, bins, distinctNats, sisterSquareInches: alike > 0 ? squares / alike : 0 };
}

/** Axles that must find a partner, as a share of the shorter pattern. */
export const LEAST_MATCHED_SHARE = 0.5;
/** Spacings from here on lie between the trucks of a vehicle and tell vehicles apart; trucks and coupled ends are much alike. */
const TELLING_BIN = 12;

/** False when no alignment could match half of the shorter pattern. Well under a microsecond. */
export function couldMatch(a: Fingerprint, b: Fingerprint): boolean {
  return a.axles <= b.axles ? halfFinds(a.bins, 0, b.bins, 0) : halfFinds(b.bins, 0, a.bins, 0);
}

/** Whether at least half of the telling spacings of the shorter pattern find one of the same length in the longer. */
function halfFinds(shorter: Uint16Array, at: number, longer: Uint16Array, there: number): boolean {
  let telling = 0;
  let lonely = 0;
  let before = longer[there + TELLING_BIN - 1]!;
  let same = longer[there + TELLING_BIN]!;
  for (let k = TELLING_BIN; k < BINS; k++) {
    const here = shorter[at + k]!;
    const after = k + 1 < BINS ? longer[there + k + 1]! : 0;
    // A spacing on the edge of a bin, or at a site of another scale, may lie in the next one.
    const over = here - before - same - after;
    telling += here;
    lonely += Math.max(over, 0);
    before = same;
    same = after;
  }
  return lonely <= (1 - LEAST_MATCHED_SHARE) * telling;
}

/** Uint16 that one pattern takes on a board: its bins, then its axles. */
const PLACE = 64;
const AXLES_AT = BINS;

/**
 * What `couldMatch` asks of many patterns, side by side in one piece of memory: every pass is held against all trains that
 * may come, and most of that time would go into finding where each keeps its own.
 */
export class PrintBoard {
  private bins = new Uint16Array(PLACE * 64);

  /** Writes a pattern at place `place`, from 0 on. */
  put(place: number, print: Fingerprint): void {
    const at = place * PLACE;
    if (at >= this.bins.length) {
      const wider = new Uint16Array(Math.max(2 * this.bins.length, at + PLACE));
      wider.set(this.bins);
      this.bins = wider;
    }
    this.bins.set(print.bins, at);
    this.bins[at + AXLES_AT] = print.axles;
  }

  couldMatch(place: number, print: Fingerprint): boolean {
    const { bins } = this;
    const at = place * PLACE;
    return bins[at + AXLES_AT]! < print.axles ? halfFinds(bins, at, print.bins, 0) : halfFinds(print.bins, 0, bins, at);
  }
}
