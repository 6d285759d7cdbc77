import { expect, test } from "vitest";
import { alignLattice, type Scoring } from "../../src/journey/lattice.ts";

/*
 * Needleman and Wunsch (1970): the worked example GATTACA against GCATGCU with match +1, mismatch -1, gap -1. The example
 * is common in teaching; its score, matrix and number of optimal alignments were worked out anew by hand of the recurrence
 * [D]. It runs through the lattice that aligns trains, with another scoring: a match is worth what the two symbols say, a
 * run of dropped or added symbols costs the same per symbol, and merged symbols do not exist.
 */

const ROWS = "GATTACA";
const COLUMNS = "GCATGCU";

const MATRIX = [
  [0, -1, -2, -3, -4, -5, -6, -7],
  [-1, 1, 0, -1, -2, -3, -4, -5],
  [-2, 0, 0, 1, 0, -1, -2, -3],
  [-3, -1, -1, 0, 2, 1, 0, -1],
  [-4, -2, -2, -1, 1, 1, 0, -1],
  [-5, -3, -3, -1, 0, 0, 0, -1],
  [-6, -4, -2, -2, -1, -1, 1, 0],
  [-7, -5, -3, -1, -2, -2, 0, 0],
];

const symbols: Scoring = {
  step: match,
  fresh: match,
  missed: () => Number.NEGATIVE_INFINITY,
  doubled: () => Number.NEGATIVE_INFINITY,
  openDrop: () => -1,
  openAdd: () => -1,
  extendDrop: -1,
  extendAdd: -1,
};

function match(i: number, j: number): number {
  return ROWS[i - 1] === COLUMNS[j - 1] ? 1 : -1;
}

const wide = { low: -ROWS.length, high: COLUMNS.length };

test("the lattice of trains gives the published matrix and score", () => {
  const best = new Float64Array(64);
  const path = alignLattice(7, 7, symbols, wide, false, best);
  expect(path.score).toBe(0);
  expect(Array.from({ length: 8 }, (_, i) => [...best.slice(8 * i, 8 * i + 8)])).toEqual(MATRIX);
});

test("the matrix holds exactly the three published alignments, and the lattice's own is one of them", () => {
  const best = new Float64Array(64);
  const path = alignLattice(7, 7, symbols, wide, false, best);
  const all = optimal(best, 7, 7);
  expect(all.map(([top]) => top).sort()).toEqual(["GCA-TGCU", "GCAT-GCU", "GCATG-CU"]);
  expect(new Set(all.map(([, bottom]) => bottom))).toEqual(new Set(["G-ATTACA"]));
  expect(all).toContainEqual(written(path.rowOfColumn));
});

test("a band that holds the best path changes nothing; one that does not hold both ends is refused", () => {
  expect(alignLattice(7, 7, symbols, { low: -2, high: 2 }, false).score).toBe(0);
  expect(() => alignLattice(7, 5, symbols, { low: -1, high: 3 }, false)).toThrow(/JOURNEY-001/);
});

/** Every alignment that reaches a cell's best score, as [columns, rows] with dashes. */
function optimal(best: Float64Array, i: number, j: number): [string, string][] {
  if (i === 0 && j === 0) return [["", ""]];
  const at = (r: number, c: number): number => best[8 * r + c]!;
  const found: [string, string][] = [];
  const take = (from: [string, string][], top: string, bottom: string) => {
    for (const [a, b] of from) found.push([a + top, b + bottom]);
  };
  if (i > 0 && j > 0 && at(i, j) === at(i - 1, j - 1) + match(i, j)) take(optimal(best, i - 1, j - 1), COLUMNS[j - 1]!, ROWS[i - 1]!);
  if (i > 0 && at(i, j) === at(i - 1, j) - 1) take(optimal(best, i - 1, j), "-", ROWS[i - 1]!);
  if (j > 0 && at(i, j) === at(i, j - 1) - 1) take(optimal(best, i, j - 1), COLUMNS[j - 1]!, "-");
  return found;
}

/** An alignment of the lattice in the same form. */
function written(rowOfColumn: Int32Array): [string, string] {
  let top = "";
  let bottom = "";
  let row = 0;
  for (let j = 1; j <= COLUMNS.length; j++) {
    const matched = rowOfColumn[j]!;
    if (matched === 0) {
      top += COLUMNS[j - 1]!;
      bottom += "-";
      continue;
    }
    for (row++; row < matched; row++) {
      top += "-";
      bottom += ROWS[row - 1]!;
    }
    top += COLUMNS[j - 1]!;
    bottom += ROWS[row - 1]!;
  }
  for (row++; row <= ROWS.length; row++) {
    top += "-";
    bottom += ROWS[row - 1]!;
  }
  return [top, bottom];
}
