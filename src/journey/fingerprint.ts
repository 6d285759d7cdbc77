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
  const shorter = a.axles <= b.axles ? a : b;
  const longer = shorter === a ? b : a;
  let telling = 0;
  let lonely = 0;
  for (let k = TELLING_BIN; k < BINS; k++) {
    const here = shorter.bins[k]!;
    if (here === 0) continue;
    telling += here;
    // A spacing on the edge of a bin, or at a site of another scale, may lie in the next one.
    const there = longer.bins[k]! + longer.bins[k - 1]! + (k + 1 < BINS ? longer.bins[k + 1]! : 0);
    if (here > there) lonely += here - there;
  }
  return lonely <= (1 - LEAST_MATCHED_SHARE) * telling;
}
