/** Chance of at least `count` events where `expected` are. */
export function poissonAtLeast(count: number, expected: number): number {
  if (count <= 0) return 1;
  let term = Math.exp(-expected);
  let below = term;
  for (let k = 1; k < count; k++) {
    term *= expected / k;
    below += term;
  }
  return Math.max(0, 1 - below);
}

/**
 * Lower confidence bound of the mean of a Poisson count: the mean at which so many or more come with chance `doubt`
 * (Garwood 1936, exact). 0 for a count of 0. `doubt` above 1e-9: below, the arithmetic is at its end.
 */
export function poissonLowerBound(count: number, doubt: number): number {
  if (count <= 0) return 0;
  let low = 0;
  let high = count;
  for (let step = 0; step < BISECTIONS; step++) {
    const middle = (low + high) / 2;
    if (poissonAtLeast(count, middle) < doubt) low = middle;
    else high = middle;
  }
  return low;
}

const BISECTIONS = 50;

/** Log likelihood ratio of `count` events: mean `whenWrong` against mean `usually`. */
export function poissonEvidence(count: number, usually: number, whenWrong: number): number {
  return count * Math.log(whenWrong / usually) - (whenWrong - usually);
}

/** Chance of at least `count` of `trials` where each happens with `chance`. */
export function binomialAtLeast(count: number, trials: number, chance: number): number {
  if (count <= 0 || chance >= 1) return 1;
  if (chance <= 0) return 0;
  let term = (1 - chance) ** trials;
  let below = 0;
  for (let k = 0; k < count; k++) {
    below += term;
    term *= ((trials - k) / (k + 1)) * (chance / (1 - chance));
  }
  return Math.max(0, 1 - below);
}
