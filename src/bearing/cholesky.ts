/** A symmetric positive definite system, solved. */
export interface Solved {
  x: Float64Array;
  /** Variance of one of the unknowns, when the matrix is a precision matrix. */
  varianceOf(at: number): number;
  /** Variance of the mean of two different unknowns. */
  varianceOfMean(one: number, two: number): number;
}

/**
 * Solves A x = b for a symmetric positive definite A (row-major, n x n) by Cholesky's factorisation. A is overwritten.
 * Errors: RangeError when A is not positive definite.
 */
export function solvePositive(a: Float64Array, b: Float64Array, n: number): Solved {
  factor(a, n);
  const x = b.slice(0, n);
  forward(a, x, n, 0);
  backward(a, x, n);
  const column = new Float64Array(n);
  const squares = (from: number): number => {
    forward(a, column, n, from);
    let sum = 0;
    for (let i = from; i < n; i++) sum += column[i]! * column[i]!;
    return sum;
  };
  return {
    x,
    varianceOf: (at) => {
      column.fill(0);
      column[at] = 1;
      return squares(at);
    },
    varianceOfMean: (one, two) => {
      column.fill(0);
      column[one] = 0.5;
      column[two] = 0.5;
      return squares(Math.min(one, two));
    },
  };
}

function factor(a: Float64Array, n: number): void {
  for (let j = 0; j < n; j++) {
    for (let i = j; i < n; i++) {
      let sum = a[i * n + j]!;
      for (let k = 0; k < j; k++) sum -= a[i * n + k]! * a[j * n + k]!;
      if (i > j) a[i * n + j] = sum / a[j * n + j]!;
      else if (sum > 0) a[j * n + j] = Math.sqrt(sum);
      else throw new RangeError(`solvePositive: the matrix is not positive definite at row ${j}`);
    }
  }
}

function forward(a: Float64Array, x: Float64Array, n: number, from: number): void {
  for (let i = from; i < n; i++) {
    let sum = x[i]!;
    for (let k = from; k < i; k++) sum -= a[i * n + k]! * x[k]!;
    x[i] = sum / a[i * n + i]!;
  }
}

function backward(a: Float64Array, x: Float64Array, n: number): void {
  for (let i = n - 1; i >= 0; i--) {
    let sum = x[i]!;
    for (let k = i + 1; k < n; k++) sum -= a[k * n + i]! * x[k]!;
    x[i] = sum / a[i * n + i]!;
  }
}
