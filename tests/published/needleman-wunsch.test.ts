import { describe, expect, it } from "vitest";
import { alignLattice, type Scoring } from "../../src/journey/lattice.ts";

/**
 * Needleman-Wunsch worked example GATTACA against GCATGCU, match +1, mismatch -1, gap -1 (TRADE 6.6: score 0, this matrix,
 * three best alignments, counted there [D]). The lattice is the one that trains are aligned with.
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
const BEST = [
  ["GCATG-CU", "G-ATTACA"],
  ["GCA-TGCU", "G-ATTACA"],
  ["GCAT-GCU", "G-ATTACA"],
];

const same = (i: number, j: number) => (ROWS[i - 1] === COLUMNS[j - 1] ? 1 : -1);
const scoring: Scoring = {
  step: same,
  fresh: same,
  missed: () => Number.NEGATIVE_INFINITY,
  doubled: () => Number.NEGATIVE_INFINITY,
  openDrop: () => -1,
  openAdd: () => -1,
  extendDrop: -1,
  extendAdd: -1,
};
const whole = { low: -ROWS.length, high: COLUMNS.length };

describe("the lattice that trains are aligned with, on the published example", () => {
  it("gives score 0 and the published matrix, cell by cell", () => {
    const best = new Float64Array((ROWS.length + 1) * (COLUMNS.length + 1));
    const { score } = alignLattice(ROWS.length, COLUMNS.length, scoring, whole, false, best);
    expect(score).toBe(0);
    expect(
      Array.from({ length: ROWS.length + 1 }, (_, i) =>
        Array.from({ length: COLUMNS.length + 1 }, (_, j) => best[i * (COLUMNS.length + 1) + j]),
      ),
    ).toEqual(MATRIX);
  });

  it("finds one of the three best alignments", () => {
    const { rowOfColumn } = alignLattice(ROWS.length, COLUMNS.length, scoring, whole, false);
    let top = "";
    let bottom = "";
    let row = 0;
    for (let j = 1; j <= COLUMNS.length; j++) {
      const matched = rowOfColumn[j] as number;
      while (matched > 0 && row < matched - 1) {
        top += "-";
        bottom += ROWS[row++];
      }
      top += COLUMNS[j - 1];
      bottom += matched > 0 ? ROWS[row++] : "-";
    }
    while (row < ROWS.length) {
      top += "-";
      bottom += ROWS[row++];
    }
    expect(BEST).toContainEqual([top, bottom]);
  });
});
