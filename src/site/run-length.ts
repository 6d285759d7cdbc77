/**
 * Average run length of a one-sided cumulative sum of normal values: how many steps go by, on average, until it answers.
 * By Brook and Evans (1972): the sum on a grid is a Markov chain, the mean time to its absorption a system of equations.
 *
 * `allowance` and `decision` in standard deviations of a step, `shift` the mean of the steps.
 */
export function averageRunLength(allowance: number, decision: number, shift: number, cells = 120): number {
  const width = (2 * decision) / (2 * cells - 1);
  const chance = (from: number, to: number): number => {
    const centre = (to - from) * width + allowance - shift;
    const above = normalBelow(centre + width / 2);
    return to === 0 ? above : above - normalBelow(centre - width / 2);
  };
  const matrix: Float64Array[] = [];
  for (let from = 0; from < cells; from++) {
    const row = new Float64Array(cells + 1);
    for (let to = 0; to < cells; to++) row[to] = (from === to ? 1 : 0) - chance(from, to);
    row[cells] = 1;
    matrix.push(row);
  }
  return solve(matrix)[0]!;
}

/** Gaussian elimination with the largest pivot; the right-hand side is the last column. */
function solve(matrix: Float64Array[]): number[] {
  const size = matrix.length;
  for (let column = 0; column < size; column++) {
    let pivot = column;
    for (let row = column + 1; row < size; row++) if (Math.abs(matrix[row]![column]!) > Math.abs(matrix[pivot]![column]!)) pivot = row;
    [matrix[column], matrix[pivot]] = [matrix[pivot]!, matrix[column]!];
    for (let row = column + 1; row < size; row++) {
      const factor = matrix[row]![column]! / matrix[column]![column]!;
      if (factor === 0) continue;
      for (let at = column; at <= size; at++) matrix[row]![at] = matrix[row]![at]! - factor * matrix[column]![at]!;
    }
  }
  const solved = new Array<number>(size).fill(0);
  for (let row = size - 1; row >= 0; row--) {
    let rest = matrix[row]![size]!;
    for (let at = row + 1; at < size; at++) rest -= matrix[row]![at]! * solved[at]!;
    solved[row] = rest / matrix[row]![row]!;
  }
  return solved;
}

/** Standard normal distribution, by the complementary error function's continued fraction and series. */
export function normalBelow(z: number): number {
  const x = Math.abs(z) / Math.SQRT2;
  const tail = x < SERIES_UNDER ? 1 - erfSeries(x) : erfcFraction(x);
  return z > 0 ? 1 - tail / 2 : tail / 2;
}

const SERIES_UNDER = 2.5;
const TERMS = 60;

function erfSeries(x: number): number {
  let term = x;
  let sum = x;
  for (let n = 1; n < TERMS; n++) {
    term *= (-x * x) / n;
    sum += term / (2 * n + 1);
  }
  return (2 / Math.sqrt(Math.PI)) * sum;
}

function erfcFraction(x: number): number {
  let fraction = 0;
  for (let n = TERMS; n > 0; n--) fraction = n / 2 / (x + fraction);
  return Math.exp(-x * x) / Math.sqrt(Math.PI) / (x + fraction);
}
